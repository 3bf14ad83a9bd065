package main

import (
	"debug/buildinfo"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	cdx "github.com/CycloneDX/cyclonedx-go"
)

// component is a module that is in the program.
type component struct {
	path, version, sum string
	licence            string   // by its SPDX name; "see text" when it is none of the usual ones
	texts              []string // of its licence files
}

// componentsOf lists the modules that are in a program, with their licences.
func componentsOf(info *buildinfo.BuildInfo) ([]component, error) {
	var out []component
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		c := component{path: m.Path, version: m.Version, sum: m.Sum}
		dir, err := sourceOf(m.Path, m.Version)
		if err != nil {
			return nil, err
		}
		if c.texts, err = licenceTexts(dir); err != nil {
			return nil, err
		}
		if len(c.texts) == 0 {
			return nil, fmt.Errorf("%s@%s has no licence", m.Path, m.Version)
		}
		c.licence = licenceOf(c.texts)
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b component) int { return strings.Compare(a.path, b.path) })
	return out, nil
}

func sourceOf(path, version string) (string, error) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", path+"@"+version).Output()
	if err != nil {
		return "", fmt.Errorf("where is %s@%s: %w", path, version, err)
	}
	return strings.TrimSpace(string(out)), nil
}

// licenceTexts reads the licence files of a module, those of third parties in its
// tree too.
func licenceTexts(dir string) ([]string, error) {
	var texts []string
	err := filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := strings.ToUpper(d.Name())
		if d.IsDir() {
			if name == "TESTDATA" || strings.Count(strings.TrimPrefix(p, dir), string(filepath.Separator)) > 3 {
				return filepath.SkipDir
			}
			return nil
		}
		named := strings.HasPrefix(name, "LICENSE") || strings.HasPrefix(name, "LICENCE") || strings.HasPrefix(name, "COPYING") || strings.HasPrefix(name, "NOTICE") || strings.HasPrefix(name, "UNLICENSE")
		if !named || strings.HasSuffix(name, ".GO") {
			return nil
		}
		data, err := os.ReadFile(p)
		if err != nil {
			return err
		}
		if !slices.Contains(texts, string(data)) {
			texts = append(texts, string(data))
		}
		return nil
	})
	return texts, err
}

// licenceOf tells the usual licences apart by what only they say.
func licenceOf(texts []string) string {
	var out []string
	for _, t := range texts {
		flat := strings.Join(strings.Fields(t), " ")
		for _, l := range []struct{ name, says string }{
			{"LGPL-3.0-only", "GNU LESSER GENERAL PUBLIC LICENSE Version 3"},
			{"MPL-2.0", "Mozilla Public License Version 2.0"},
			{"MPL-2.0", "Mozilla Public License, version 2.0"},
			{"Apache-2.0", "Apache License Version 2.0"},
			{"BSD-3-Clause", "Neither the name of"},
			{"BSD-3-Clause", "may be used to endorse or promote"},
			{"BSD-2-Clause", "Redistribution and use in source and binary forms"},
			{"MIT", "Permission is hereby granted, free of charge"},
			{"ISC", "Permission to use, copy, modify, and/or distribute this software for any purpose"},
			{"ISC", "Permission to use, copy, modify, and distribute this software for any purpose"},
			{"Unlicense", "This is free and unencumbered software released into the public domain"},
			{"CC0-1.0", "CC0 1.0 Universal"},
		} {
			if strings.Contains(flat, l.says) {
				if !slices.Contains(out, l.name) {
					out = append(out, l.name)
				}
				break
			}
		}
	}
	if len(out) == 0 {
		return "see text"
	}
	slices.Sort(out)
	return strings.Join(out, " AND ")
}

// writeBill writes the bill of materials as CycloneDX JSON. It holds no time and no
// random number, so the same program gives the same bill.
func writeBill(w io.Writer, version string, parts []component) error {
	b := cdx.NewBOM()
	b.Metadata = &cdx.Metadata{Component: &cdx.Component{BOMRef: "thrum", Type: cdx.ComponentTypeApplication, Name: "thrum", Version: version}}
	var all []cdx.Component
	var refs []string
	for _, p := range parts {
		url := "pkg:golang/" + p.path + "@" + p.version
		all = append(all, cdx.Component{
			BOMRef: url, Type: cdx.ComponentTypeLibrary, Name: p.path, Version: p.version, PackageURL: url,
			Licenses:   &cdx.Licenses{{Expression: expression(p.licence)}},
			Properties: &[]cdx.Property{{Name: "go:sum", Value: p.sum}},
		})
		refs = append(refs, url)
	}
	b.Components = &all
	b.Dependencies = &[]cdx.Dependency{{Ref: "thrum", Dependencies: &refs}}
	e := cdx.NewBOMEncoder(w, cdx.BOMFileFormatJSON)
	e.SetPretty(true)
	return e.EncodeVersion(b, cdx.SpecVersion1_5)
}

func expression(licence string) string {
	if licence == "see text" {
		return "LicenseRef-see-text"
	}
	return licence
}
