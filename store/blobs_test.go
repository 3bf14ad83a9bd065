package store

import (
	"database/sql"
	"math"
)

type sqlTx = sql.Tx

func nan() float64 { return math.NaN() }

const writerMode = "THRUM_TEST_WRITER"

func runWriter() int { return 1 }
