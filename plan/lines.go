package plan

import (
	"fmt"

	"thrum/lathe"
	"thrum/unit"
)

// KnownLine is something about the lathe that comes round a fixed number of times
// for each turn of the spindle: a mesh of two wheels, the leadscrew, the chuck's
// jaws. It can be heard as a tone and seen as marks per turn, at every speed the
// same number.
type KnownLine struct {
	Name    string     `json:"name"`
	PerTurn unit.Ratio `json:"per_turn"`
	Mesh    bool       `json:"mesh"` // teeth in mesh, the strongest starter of marks
}

// changeGears begins the names of their meshes.
const changeGears = "change gears"

// knownLines lists what this set-up makes heard: every mesh of the change gears
// and of the headstock, the leadscrew, the jaws.
func (b *builder) knownLines() error {
	add := func(mesh bool, r unit.Ratio, err error, format string, args ...any) error {
		if err == nil && r.Sign() > 0 {
			b.plan.Lines = append(b.plan.Lines, KnownLine{Name: fmt.Sprintf(format, args...), PerTurn: r, Mesh: mesh})
		}
		return err
	}
	if b.train == nil {
		return nil
	}
	if err := b.headstockLines(add); err != nil {
		return err
	}
	turns := b.la.Drive.StudRatio
	if turns.IsZero() {
		turns = unit.Whole(1)
	}
	for i, w := range b.train.Wheels[:max(len(b.train.Wheels)-1, 0)] {
		next := b.train.Wheels[i+1]
		if next.Shaft == w.Shaft {
			continue // keyed together: the same turns
		}
		rate, err := turns.Mul(unit.Whole(int64(w.Teeth)))
		if err := add(true, rate, err, changeGears+" %d and %d", w.Teeth, next.Teeth); err != nil {
			return err
		}
		if turns, err = rate.Quo(unit.Whole(int64(next.Teeth))); err != nil {
			return err
		}
	}
	screw, err := b.train.Lead.Quo(b.la.Leadscrew.Lead)
	if err := add(false, screw, err, "leadscrew"); err != nil {
		return err
	}
	return add(false, unit.Whole(int64(b.la.Chuck.Jaws)), nil, "chuck jaws")
}

// headstockLines lists the meshes that turn in the headstock at this speed, from
// the spindle backwards: the wheel on the spindle turns once.
func (b *builder) headstockLines(add func(bool, unit.Ratio, error, string, ...any) error) error {
	meshes := []lathe.Mesh{}
	for _, s := range b.la.Speeds {
		if s.RPM != b.plan.Speed.RPM {
			continue
		}
		meshes = s.Meshes
		if len(meshes) == 0 && s.BackGear && b.la.BackGear != nil {
			meshes = b.la.BackGear.Meshes
		}
	}
	turns := unit.Whole(1)
	for i := len(meshes) - 1; i >= 0; i-- {
		m := meshes[i]
		rate, err := turns.Mul(unit.Whole(int64(m.Driven())))
		if err := add(true, rate, err, "headstock gears %d and %d", m.Driver(), m.Driven()); err != nil {
			return err
		}
		if turns, err = rate.Quo(unit.Whole(int64(m.Driver()))); err != nil {
			return err
		}
	}
	return nil
}
