package trial

import (
	"bytes"
	_ "embed"
	"encoding/csv"
	"strings"
	"sync"
)

//go:embed data/ladder.csv
var ladderFile []byte

//go:embed data/questions.csv
var questionsFile []byte

// Level is how far the design lets a finding go.
type Level string

// The rungs; data/ladder.csv has the words of each and docs/trials.md the rules.
const (
	Mixed    Level = "L0"
	OnePair  Level = "L1"
	Hint     Level = "L2"
	Good     Level = "L3"
	Strong   Level = "L4"
	NotShown Level = "not shown"
	NoWay    Level = "no way to tell"
	NotDrawn Level = "not drawn"
	Small    Level = "small"
)

var ladder = sync.OnceValue(func() map[Level]string {
	m := map[Level]string{}
	for _, r := range table(ladderFile) {
		m[Level(r[0])] = r[1]
	}
	return m
})

// words fills in the sentence of a level; pairs are names and what they stand for.
func (l Level) words(pairs ...string) string {
	return strings.NewReplacer(pairs...).Replace(ladder()[l])
}

// Question is a question that is ready to be cut for.
type Question struct {
	ID     string
	Asks   string
	Factor Factor
	Hold   []string // what to hold and write down
	Watch  string   // what is easily missed
	Same   []string // conditions of a plan that are the factor itself, or follow from it alone
	Score  string   // what is usually graded or counted
	Better Direction
}

// Questions lists the ready-made questions.
var Questions = sync.OnceValue(func() []Question {
	var qs []Question
	for _, r := range table(questionsFile) {
		q := Question{ID: r[0], Asks: r[1], Factor: Factor{r[2], r[3], r[4]}, Hold: strings.Split(r[5], "; "), Watch: r[6], Score: r[8], Better: Direction(r[9])}
		if r[7] != "" {
			q.Same = strings.Split(r[7], "; ")
		}
		qs = append(qs, q)
	}
	return qs
})

// table reads an embedded file without its head line; a fault in it is our own.
func table(file []byte) [][]string {
	r := csv.NewReader(bytes.NewReader(file))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		panic(err)
	}
	return rows[1:]
}
