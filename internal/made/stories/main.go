// Stories writes the figures and the tables of docs/stories.md, which tells of three cuts that
// were followed through time. It is run by make docs in the top folder.
package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"thrum/draw"
)

func main() {
	if err := write("docs"); err != nil {
		fmt.Fprintln(os.Stderr, "stories:", err)
		os.Exit(1)
	}
}

// story is one story's results: tables by name, charts by name.
type story struct {
	tables map[string]string
	charts map[string]draw.Chart
}

func write(docs string) error {
	page := filepath.Join(docs, "stories.md")
	text, err := os.ReadFile(page)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Join(docs, "stories"), 0o755); err != nil {
		return err
	}
	for _, tell := range []func() (story, error){slender, cleaned, slow} {
		s, err := tell()
		if err != nil {
			return err
		}
		for name, table := range s.tables {
			if text, err = replaced(text, name, table); err != nil {
				return err
			}
		}
		for name, chart := range s.charts {
			svg, err := picture(chart)
			if err != nil {
				return err
			}
			if err := os.WriteFile(filepath.Join(docs, "stories", name+".svg"), svg, 0o644); err != nil {
				return err
			}
		}
	}
	if err := looks(func(name string) (io.WriteCloser, error) { return os.Create(filepath.Join(docs, "stories", name)) }); err != nil {
		return err
	}
	return os.WriteFile(page, text, 0o644)
}

// block returns what stands between a name's marks in the page.
func block(text []byte, name string) (from, to int, err error) {
	begin, end := []byte("<!-- begin "+name+" -->\n"), []byte("<!-- end "+name+" -->")
	from, to = bytes.Index(text, begin), bytes.Index(text, end)
	if from < 0 || to < from {
		return 0, 0, errors.New("the page has no block " + name)
	}
	return from + len(begin), to, nil
}

func replaced(text []byte, name, table string) ([]byte, error) {
	from, to, err := block(text, name)
	if err != nil {
		return nil, err
	}
	return append(append(append([]byte{}, text[:from]...), table...), text[to:]...), nil
}

func picture(c draw.Chart) ([]byte, error) {
	const wide, high = 150, 90
	l := draw.New(draw.Size{W: wide, H: high}, c.Title)
	c.Draw(l, draw.Box{X: 0, Y: 0, W: wide, H: high})
	var b bytes.Buffer
	err := l.SVG(&b, 0, draw.SVGOptions{})
	return b.Bytes(), err
}

// row is one line of a table.
func row(cells ...string) string { return "| " + strings.Join(cells, " | ") + " |\n" }

func head(cells ...string) string {
	return row(cells...) + "|" + strings.Repeat("---|", len(cells)) + "\n"
}

// um prints micrometres to two figures.
func um(v float64) string {
	switch {
	case v >= 9.95:
		return fmt.Sprintf("%.0f", v)
	case v >= 0.995:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}
