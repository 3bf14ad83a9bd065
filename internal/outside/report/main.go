// Command report turns the claims recorded by tests into docs/validation.md.
//
//	go run ./internal/outside/report DIR > docs/validation.md
package main

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"thrum/internal/outside"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: report DIR")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "report:", err)
		os.Exit(1)
	}
}

// bySection groups claims under the package whose test made them.
type bySection map[string][]outside.Claim

func run(dir string, w io.Writer) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.jsonl"))
	if err != nil {
		return err
	}
	sections := bySection{}
	for _, name := range files {
		if err := sections.read(name); err != nil {
			return err
		}
	}
	return sections.print(w)
}

func (s bySection) read(name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	section, _, _ := strings.Cut(filepath.Base(name), ".test")
	sc := bufio.NewScanner(f)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		var c outside.Claim
		if err := json.Unmarshal(sc.Bytes(), &c); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		s[section] = append(s[section], c)
	}
	return sc.Err()
}

func (s bySection) print(w io.Writer) error {
	names := make([]string, 0, len(s))
	count := map[outside.Status]int{}
	total, decided := 0, 0
	for name, claims := range s {
		names = append(names, name)
		for _, c := range claims {
			total++
			count[c.Status]++
			if c.Decision != "" {
				decided++
			}
		}
	}
	sort.Strings(names)
	b := bufio.NewWriter(w)
	fmt.Fprintf(b, "# Checks against the outside world\n\nMade by `make validate`. %d figures published or computed elsewhere: %d read on a page, %d from a reference\n"+
		"program, %d from memory. Of those that somebody published, %.0f %% were read where they stand. %d differ from ours for a reason that was decided in writing (last column); no other\ndiffers by more than its tolerance.\n\n",
		total, count[outside.Read], count[outside.Computed], count[outside.Memory],
		100*float64(count[outside.Read])/float64(max(count[outside.Read]+count[outside.Memory], 1)), decided)
	for _, name := range names {
		claims := s[name]
		sort.SliceStable(claims, func(i, j int) bool {
			if claims[i].Source != claims[j].Source {
				return claims[i].Source < claims[j].Source
			}
			return claims[i].What < claims[j].What
		})
		fmt.Fprintf(b, "## %s\n", name)
		source := ""
		for _, c := range claims {
			if c.Source != source {
				source = c.Source
				fmt.Fprintf(b, "\n### %s\n\n| quantity | status | published | ours | difference | tolerance | unit | decision |\n|---|---|---:|---:|---:|---:|---|---|\n", source)
			}
			fmt.Fprintf(b, "| %s | %s | %s | %s | %s | %s | %s | %s |\n", cell(c.What), c.Status, number(c.Published), number(c.Ours),
				strconv.FormatFloat(tidy(c.Ours-c.Published), 'g', 3, 64), strconv.FormatFloat(c.Tolerance, 'g', 3, 64), cell(c.Unit), cell(c.Decision))
		}
		fmt.Fprintln(b)
	}
	return b.Flush()
}

func cell(s string) string { return strings.ReplaceAll(strings.ReplaceAll(s, "|", "\\|"), "\n", " ") }

func number(v float64) string { return strconv.FormatFloat(v, 'g', 8, 64) }

func tidy(v float64) float64 {
	if math.Abs(v) < 1e-12 {
		return 0
	}
	return v
}
