package examples

import (
	"errors"
	"fmt"
)

// Question is an invented question that waits to be cut for.
type Question struct{ Asks, Detail string }

// Questions are those of the example trial's shop; the first is the one it answers.
func Questions() []Question {
	return []Question{
		{"Does a centre reduce the marks on the vice screw?", "the last four screws sang near the free end"},
		{"Is it the speed or the fresh edge that made the last one smooth?", "both were changed at once"},
		{"Do spring passes take off more than the dial says?", "asked by the one who measures"},
		{"Does sulphurised oil help below 20 m/min?", "there is half a tin left"},
	}
}

// TrialTable is the table of the example trial, as CSV.
func TrialTable() []byte {
	b, err := files.ReadFile("trials/shop.csv")
	if err != nil { // the file is embedded
		panic(err)
	}
	return b
}

// TrialTake is the recording and the photograph of the bar in a row of the table,
// counted from 1. They are simulated from the plan of the trial, not fitted to the
// table; internal/made/samples made them.
func TrialTake(row int) (sound, photograph []byte, err error) {
	sound, err1 := files.ReadFile(fmt.Sprintf("trials/bar-%d.opus", row))
	photograph, err2 := files.ReadFile(fmt.Sprintf("trials/bar-%d.jpg", row))
	return sound, photograph, errors.Join(err1, err2)
}
