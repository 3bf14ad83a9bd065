package web

import (
	"context"
	"slices"
	"strings"

	"thrum/cut"
	"thrum/examples"
	"thrum/lathe"
	"thrum/store"
	"thrum/unit"
)

// library finds lathes and materials by name: the shop's own first, then those that
// come with the program.
type library struct{ store *store.Store }

// lathe returns the text of a lathe.
func (l library) lathe(ctx context.Context, name string) (string, error) {
	if name == "" {
		return "", &unit.InputError{Field: "lathe", Value: "", Reason: "is missing", Hint: "choose one of: " + strings.Join(examples.Lathes(), ", ")}
	}
	if l.store != nil {
		t, err := l.store.Lathes().Get(ctx, name)
		switch store.CodeOf(err) {
		case store.NotFound, store.Invalid:
		default:
			return t.TOML, err
		}
	}
	if text, ok := examples.Lathe(name); ok {
		return text, nil
	}
	names, err := l.latheNames(ctx)
	if err != nil {
		return "", err
	}
	return "", &unit.InputError{Field: "lathe", Value: name, Reason: "is not known here", Hint: "choose one of: " + strings.Join(names, ", ")}
}

// latheNames lists the names that lathe accepts.
func (l library) latheNames(ctx context.Context) ([]string, error) {
	names := slices.Clone(examples.Lathes())
	if l.store != nil {
		kept, err := l.store.Lathes().List(ctx)
		if err != nil {
			return nil, err
		}
		for _, t := range kept {
			if !slices.Contains(names, t.Name) {
				names = append(names, t.Name)
			}
		}
	}
	slices.Sort(names)
	return names, nil
}

// material says what a request for a material means: a name in the table, or the
// shop's own text.
func (l library) material(ctx context.Context, name string) (text string, err error) {
	if l.store == nil || name == "" {
		return "", nil
	}
	t, err := l.store.Materials().Get(ctx, name)
	switch store.CodeOf(err) {
	case store.NotFound, store.Invalid:
		return "", nil
	}
	return t.TOML, err
}

// materialNames lists the shop's own materials and those of the table.
func (l library) materialNames(ctx context.Context) (own, table []string, err error) {
	if l.store != nil {
		kept, err := l.store.Materials().List(ctx)
		if err != nil {
			return nil, nil, err
		}
		for _, t := range kept {
			own = append(own, t.Name)
		}
	}
	for _, m := range cut.Materials() {
		table = append(table, m.Name)
	}
	return own, table, nil
}

// speeds lists the spindle speeds of a lathe, slowest first.
func speeds(la *lathe.Lathe) []lathe.Speed {
	all := slices.Clone(la.Speeds)
	slices.SortFunc(all, func(a, b lathe.Speed) int {
		switch {
		case a.RPM < b.RPM:
			return -1
		case a.RPM > b.RPM:
			return 1
		}
		return 0
	})
	return all
}
