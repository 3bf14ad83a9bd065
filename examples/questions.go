package examples

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
