package examples

import "path"

// Photo is a made picture of an invented bar: no real screw was photographed.
type Photo struct {
	Name, Sample string
	Centre       bool // whether a centre held the bar
}

// Photos are two pictures of a bar with chatter marks, and one of a bar without.
func Photos() []Photo {
	return []Photo{{"bar-a-1.jpg", "bar A", false}, {"bar-a-2.jpg", "bar A", false}, {"bar-b-1.jpg", "bar B", true}}
}

// Content is the JPEG.
func (p Photo) Content() []byte {
	b, err := files.ReadFile(path.Join("photos", p.Name))
	if err != nil { // the file is embedded
		panic(err)
	}
	return b
}
