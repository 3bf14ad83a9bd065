package lathe

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"thrum/unit"
)

// check fills in what follows from other keys and refuses figures that no lathe
// has. Values that could not be read have been reported already, and nothing is
// said again of a key or table that depends on them.
func check(l *Lathe, f *faults) {
	c := checker{f, l.Units}
	if l.Name == "" && c.sound("name") {
		f.add("name", "", "is empty", "give the lathe a name that you will know it by")
	}
	c.bed(l)
	c.leadscrew(&l.Leadscrew)
	c.drive(&l.Drive)
	c.gears(l)
	c.banjo(l)
	c.gearbox(l)
	c.carriage(l)
	c.dial("cross_slide.dial", l.CrossSlide.Dial)
	c.dial("compound.dial", l.Compound.Dial)
	c.length("cross_slide.travel", l.CrossSlide.Travel, 5, 2000)
	c.length("compound.travel", l.Compound.Travel, 5, 1000)
	c.protractor(l.Compound.Protractor)
	c.head(l)
	c.speeds(l)
	c.rest(l)
	if len(f.errs) == 0 { // only sound figures can be tried
		c.present(l)
	}
}

type checker struct {
	*faults
	sys unit.System
}

// given reports whether the file has the key, readable.
func (c checker) given(path string) bool { return c.seen[path] != nil && !c.bad[path] }

// sound reports whether nothing has been found wrong in a table so far, so that
// figures of it may be compared with each other.
func (c checker) sound(table string) bool {
	for at := parent(table); at != ""; at = parent(at) {
		if c.at[at] {
			return false
		}
	}
	return !c.bad[table]
}

// typed returns what the file has for the key.
func (c checker) typed(path string) string {
	if n := c.seen[path]; n != nil {
		return n.text
	}
	return ""
}

// between refuses a figure outside the range, unless the key is absent.
func (c checker) between(path string, v, lo, hi float64, what string) {
	if c.given(path) && !(v >= lo && v <= hi) {
		c.add(path, c.typed(path), "is outside the range in which lathes are made",
			fmt.Sprintf("%s to %s%s is accepted", strconv.FormatFloat(lo, 'g', 6, 64), strconv.FormatFloat(hi, 'g', 6, 64), what))
	}
}

func (c checker) length(path string, v, lo, hi unit.Length) {
	c.between(path, v.In(c.sys), lo.In(c.sys), hi.In(c.sys), " "+c.sys.String())
}

func (c checker) count(path string, v, lo, hi int) {
	c.between(path, float64(v), float64(lo), float64(hi), "")
}

// ratio refuses a fraction that is not positive, or so fine that it cannot be
// the ratio of wheels: the search for trains relies on whole numbers that fit.
func (c checker) ratio(path string, r unit.Ratio, most int64) bool {
	if !c.given(path) {
		return true
	}
	if r.Sign() <= 0 || r.Num() > most || r.Den() > most {
		c.add(path, c.typed(path), "cannot be a ratio of wheels",
			fmt.Sprintf("write it as the fraction that the teeth make, like \"24/48\", with numbers up to %d", most))
		return false
	}
	return true
}

// oneOfTwo refuses a table that gives both or neither of two keys.
func (c checker) oneOfTwo(table string, keys ...string) bool {
	if !c.sound(table) {
		return false
	}
	n := 0
	for _, k := range keys {
		if c.given(join(table, k)) {
			n++
		}
	}
	if n == 1 {
		return true
	}
	reason := "is missing"
	if n > 1 {
		reason = "is given more than once"
	}
	c.add(table, strings.Join(keys, ", "), reason, "give exactly one of "+strings.Join(keys, ", "))
	return false
}

func (c checker) bed(l *Lathe) {
	c.length("bed.swing", l.Bed.Swing, 20, 5000)
	c.length("bed.between_centres", l.Bed.Centres, 20, 20000)
	c.length("bed.swing_over_cross_slide", l.Bed.SwingOverCross, 5, 5000)
	if c.sound("bed") && l.Bed.SwingOverCross > l.Bed.Swing {
		c.add("bed.swing_over_cross_slide", c.typed("bed.swing_over_cross_slide"), "is larger than the swing over the bed", "the cross slide takes room away")
	}
}

// pitchRange are the leads of screws and of the threads that plates promise.
const leastLead, mostLead unit.Length = 0.05, 200

func (c checker) leadscrew(s *Leadscrew) {
	if s.Starts == 0 && !c.given("leadscrew.starts") {
		s.Starts = 1
	}
	c.count("leadscrew.starts", s.Starts, 1, 10)
	c.length("leadscrew.error_per_300mm", s.Error, 0, 1)
	if !c.oneOfTwo("leadscrew", "tpi", "lead") {
		return
	}
	lead, ok := c.leadOf("leadscrew", s.TPI, s.Lead)
	s.Lead = lead
	if ok && (lead.Length() < 0.5 || lead.Length() > 60) {
		key := "leadscrew.lead"
		if c.given("leadscrew.tpi") {
			key = "leadscrew.tpi"
		}
		c.add(key, c.typed(key), "is not a leadscrew's", "a leadscrew advances 0.5 to 60 mm a turn")
	}
}

// leadOf returns the exact lead in millimetres that a table gives as threads per
// inch or as a length.
func (c checker) leadOf(table string, tpi, lead unit.Ratio) (unit.Ratio, bool) {
	key := join(table, "lead")
	if c.given(join(table, "tpi")) {
		key = join(table, "tpi")
		l, err := unit.MustRatio(127, 5).Quo(tpi)
		if err != nil {
			c.add(key, c.typed(key), "is not a number of threads per inch", "write a number such as 8 or 11.5")
			return unit.Ratio{}, false
		}
		lead = l
	}
	if lead.Length() < leastLead || lead.Length() > mostLead || lead.Den() > 1_000_000 {
		c.add(key, c.typed(key), "is not the lead of a thread", "from 0.05 mm to 200 mm a turn, or the threads per inch that make it")
		return unit.Ratio{}, false
	}
	return lead, true
}

func (c checker) drive(d *Drive) {
	if !c.given("drive.stud_ratio") {
		d.StudRatio = unit.Whole(1)
	}
	c.ratio("drive.stud_ratio", d.StudRatio, 1000)
	if t := d.Tumbler; t != nil && c.sound("drive.tumbler") && t.Right == t.Left {
		c.add("drive.tumbler.left", t.Left, "is the same position as the one for right hand", "write each as it is engraved")
	}
}

const mostWheels, leastTeeth, mostTeeth = 60, 8, 400

func (c checker) gears(l *Lathe) {
	g := l.Gears
	if g == nil {
		if l.Banjo != nil && c.sound("gears") {
			c.add("banjo", "", "is given without change gears", "add [gears] with the wheels owned, or leave the banjo out")
		}
		return
	}
	if l.Banjo == nil && c.sound("banjo") {
		c.add("gears", "", "need a banjo to hang on", "add the table [banjo]")
	}
	if c.oneOfTwo("gears", "module", "diametral_pitch") && c.given("gears.diametral_pitch") {
		c.between("gears.diametral_pitch", g.DP.Float(), 3, 80, "")
		if m, err := unit.MustRatio(127, 5).Quo(g.DP); err == nil {
			g.Module = m.Length()
		}
	} else {
		c.length("gears.module", g.Module, 0.3, 10)
	}
	if n := len(g.Owned); c.given("gears.owned") && (n < 2 || n > mostWheels) {
		c.add("gears.owned", strconv.Itoa(n), "is the number of wheels", fmt.Sprintf("list from 2 to %d tooth counts", mostWheels))
	}
	for i, z := range g.Owned {
		c.count("gears.owned."+strconv.Itoa(i), z, leastTeeth, mostTeeth)
	}
}

func (c checker) banjo(l *Lathe) {
	b := l.Banjo
	if b == nil {
		return
	}
	if !c.given("banjo.planes") {
		b.Planes = 2
	}
	if b.SwingMin == 0 && b.SwingMax == 0 {
		b.SwingMax = 180 * unit.Degree
	}
	if !c.given("banjo.stud_direction") {
		b.Tilt = 90 * unit.Degree
	}
	c.length("banjo.stud_to_screw", b.Centres, 20, 2000)
	c.length("banjo.slot_min", b.SlotMin, 1, 2000)
	c.length("banjo.slot_max", b.SlotMax, 1, 2000)
	c.length("banjo.stud_diameter", b.StudDia, 2, 200)
	c.length("banjo.screw_diameter", b.ScrewDia, 2, 200)
	c.length("banjo.bush_diameter", b.BushDia, 2, 200)
	c.count("banjo.studs", b.Studs, 1, mostStuds)
	c.count("banjo.keyed_bushes", b.Bushes, 0, mostStuds)
	c.count("banjo.planes", b.Planes, 1, 4)
	c.count("banjo.most_teeth_on_stud", b.StudMost, leastTeeth, mostTeeth)
	c.count("banjo.most_teeth_on_screw", b.ScrewMost, leastTeeth, mostTeeth)
	c.between("banjo.swing_min", b.SwingMin.Degrees(), 0, 180, "°")
	c.between("banjo.swing_max", b.SwingMax.Degrees(), 0, 180, "°")
	c.between("banjo.stud_direction", b.Tilt.Degrees(), -360, 360, "°")
	if !c.sound("banjo") {
		return
	}
	if b.SlotMax <= b.SlotMin {
		c.add("banjo.slot_max", c.typed("banjo.slot_max"), "is not greater than slot_min", "both are distances from the axis of the screw wheel")
	}
	if b.SwingMax <= b.SwingMin {
		c.add("banjo.swing_max", c.typed("banjo.swing_max"), "is not greater than swing_min", "")
	}
}

func (c checker) gearbox(l *Lathe) {
	g := l.Gearbox
	if g == nil {
		return
	}
	if !c.given("gearbox.plate_train") {
		g.PlateTrain = unit.Whole(1)
	}
	if !c.ratio("gearbox.plate_train", g.PlateTrain, 100_000) {
		return
	}
	base, err := l.screwPerSpindle(g.PlateTrain)
	if err != nil || base.IsZero() {
		return // the fault has been reported where it lies
	}
	levers := map[string]bool{}
	for i := range g.Positions {
		p, at := &g.Positions[i], "gearbox.position."+strconv.Itoa(i)
		if c.sound(at+".levers") && (levers[p.Levers] || p.Levers == "") {
			c.add(at+".levers", p.Levers, "is engraved twice or empty", "every position needs a name of its own")
		}
		levers[p.Levers] = true
		if !c.oneOfTwo(at, "ratio", "tpi", "lead") {
			continue
		}
		if !c.given(at + ".ratio") {
			lead, ok := c.leadOf(at, p.TPI, p.Lead)
			if !ok {
				continue
			}
			p.Ratio, err = lead.Quo(base)
			if err != nil {
				c.add(at, p.Levers, "gives a ratio that is too fine", "check plate_train and the thread")
				continue
			}
		}
		if c.sound(at) && (p.Ratio.Sign() <= 0 || p.Ratio.Num() > 1_000_000 || p.Ratio.Den() > 1_000_000) {
			c.add(at, p.Ratio.String(), "cannot be the ratio of this gearbox", "check plate_train and the thread that the plate gives")
		}
	}
}

// screwPerSpindle returns the lead in millimetres that a train of the given
// ratio would cut with a gearbox ratio of one.
func (l *Lathe) screwPerSpindle(train unit.Ratio) (unit.Ratio, error) {
	r, err := l.Leadscrew.Lead.Mul(l.Drive.StudRatio)
	if err != nil {
		return r, err
	}
	return r.Mul(train)
}

func (c checker) carriage(l *Lathe) {
	if l.Carriage.HalfNuts == "" {
		l.Carriage.HalfNuts = HalfNutsLever
	}
	c.length("carriage.kick_out_repeatability", l.Carriage.KickOutRepeat, 0, 5)
	for i, w := range l.DialWheels {
		at := "threading_dial." + strconv.Itoa(i)
		c.count(at+".teeth", w.Teeth, 4, 400)
		if n := len(w.Marks); c.given(at+".marks") && (n < 1 || n > 64) {
			c.add(at+".marks", strconv.Itoa(n), "is the number of lines on the dial", "list from 1 to 64 marks, \"\" for a line without a number")
		}
		for j, m := range w.Marks {
			if m != "" && slices.Index(w.Marks, m) != j {
				c.add(at+".marks."+strconv.Itoa(j), m, "is on the dial twice", "two lines with one name cannot be told apart; write \"\" for a line without a number")
			}
		}
	}
	if len(l.DialWheels) > 0 && l.Carriage.HalfNuts == HalfNutsFixed {
		c.add("threading_dial", "", "has no use with half nuts that are always engaged", "leave it out, or write half_nuts = \"lever\"")
	}
}

func (c checker) dial(path string, d Dial) {
	c.count(path+".divisions", d.Divisions, 5, 2000)
	if !c.sound(path) {
		return
	}
	if d.Division.Sign() <= 0 || d.Division.Length() > 1 || d.Division.Den() > 1_000_000 {
		c.add(path+".division", c.typed(path+".division"), "is not a division of a slide's dial", "usual ones are 0.001in, 0.0005in, 0.05mm, 0.02mm")
		return
	}
	if t := d.Turn(); t < 0.2 || t > 30 {
		c.add(path+".divisions", c.typed(path+".divisions"), "times the division makes a screw of "+t.Format(c.sys, 3)+" a turn",
			"check the division, its unit, and whether the dial reads direct or diameter")
	}
	c.length(path+".lost_motion", d.LostMotion, 0, min(5, d.Turn()*2))
}

func (c checker) protractor(p Protractor) {
	const at = "compound.protractor"
	c.between(at+".scale_end", p.End.Degrees(), 5, 180, "°")
	c.between(at+".division", p.Division.Degrees(), 0.1, 10, "°")
}

func (c checker) head(l *Lathe) {
	c.length("spindle.bore", l.Spindle.Bore, 1, 1000)
	c.length("spindle.runout", l.Spindle.Runout, 0, 1)
	c.count("spindle.index_holes", l.Spindle.Index, 2, 400)
	c.between("motor.power", l.Motor.Power.W(), 10, 100_000, " W")
	c.between("motor.efficiency", l.Motor.Efficiency.Float(), 0.1, 1, "")
	if l.Brake.Kind == "" {
		l.Brake.Kind = NoBrake
	}
	if c.sound("spindle") && l.Spindle.Nose != NoseScrew {
		for _, k := range []string{"nose_thread", "chuck_lock"} {
			if c.given("spindle." + k) {
				c.add("spindle."+k, c.typed("spindle."+k), "belongs to a screw-on nose", "leave it out, or write nose = \"screw-on\"")
			}
		}
	}
	if l.BackGear != nil {
		c.meshes("back_gear.meshes", l.BackGear.Meshes)
	}
}

func (c checker) meshes(path string, ms []Mesh) {
	for i, m := range ms {
		for j := range m {
			c.count(path+"."+strconv.Itoa(i)+"."+strconv.Itoa(j), m[j], 6, 500)
		}
	}
}

func (c checker) speeds(l *Lathe) {
	labels := map[string]bool{}
	if len(l.Speeds) == 0 && c.sound("speed") {
		c.add("speed", "", "lists no speed", "add a table [[speed]] for each speed of the spindle")
	}
	for i := range l.Speeds {
		s, at := &l.Speeds[i], "speed."+strconv.Itoa(i)
		c.between(at+".rpm", s.RPM.RPM(), 1, 20000, " rpm")
		if c.sound(at+".label") && (labels[s.Label] || s.Label == "") {
			c.add(at+".label", s.Label, "is used twice or empty", "every speed needs a name of its own")
		}
		labels[s.Label] = true
		if s.BackGear && l.BackGear == nil && c.sound("back_gear") {
			c.add(at+".back_gear", "true", "but the file has no back gear", "add [back_gear] with its tooth counts")
		}
		c.meshes(at+".meshes", s.Meshes)
		for _, r := range []struct {
			key   string
			turns []unit.Ratio
		}{{"coast_turns", s.CoastTurns}, {"brake_turns", s.BrakeTurns}} {
			for j, t := range r.turns {
				path := at + "." + r.key + "." + strconv.Itoa(j)
				c.between(path, t.Float(), 0, 10000, " turns")
			}
		}
		if len(s.BrakeTurns) > 0 && l.Brake.Kind == NoBrake && c.sound("brake") {
			c.add(at+".brake_turns", fmt.Sprint(len(s.BrakeTurns)), "readings, but the file has no brake", "add [brake] with its kind")
		}
		c.between(at+".torque", s.Torque.NM(), 0.1, 100_000, " N m")
	}
}

func (c checker) rest(l *Lathe) {
	c.count("chuck.jaws", l.Chuck.Jaws, 2, 8)
	c.length("chuck.diameter", l.Chuck.Diameter, 10, 3000)
	c.between("chuck.max_rpm", l.Chuck.MaxSpeed.RPM(), 50, 20000, " rpm")
	c.count("faceplate.slots", l.Faceplate.Slots, 1, 60)
	c.length("tailstock.quill_travel", l.Tailstock.Travel, 5, 1000)
	c.length("tailstock.quill_diameter", l.Tailstock.Quill, 5, 500)
	c.length("tailstock.set_over", l.Tailstock.SetOver, 0, 200)
	c.length("rests.steady_to", l.Rests.Steady, 1, 2000)
	c.length("rests.follow_to", l.Rests.Follow, 1, 2000)
	c.between("stiffness.chuck", l.Stiffness.Chuck.NPerMM(), 100, 10_000_000, " N/mm")
	c.between("stiffness.tailstock", l.Stiffness.Tailstock.NPerMM(), 100, 10_000_000, " N/mm")
	c.between("stiffness.tool", l.Stiffness.Tool.NPerMM(), 100, 10_000_000, " N/mm")
	c.between("stiffness.chuck_tilt", l.Stiffness.ChuckTilt.NMMPerRad()/1000, 100, 1e9, " N m/rad")
}

// present tries the set-up that is said to be mounted. When the figures of the
// banjo say that it cannot be, one of them was measured wrongly.
func (c checker) present(l *Lathe) {
	p := l.Present
	if p == nil {
		return
	}
	if p.Lever != "" {
		if _, err := l.position(p.Lever); err != nil {
			c.note("present.levers", p.Lever, err)
		}
	}
	if len(p.Wheels) == 0 {
		return
	}
	if _, err := layOutWheels(l, p.Wheels); err != nil {
		c.add("present.wheels", fmt.Sprint(p.Wheels), "cannot be mounted by the figures of this file: "+err.Error(), "it is mounted, so check the wheels and what was measured for [banjo]")
	}
}

// position finds a gearbox position by its engraved letters.
func (l *Lathe) position(levers string) (*Position, error) {
	bad := func(reason, hint string) error {
		return &unit.InputError{Field: "levers", Value: levers, Reason: reason, Hint: hint}
	}
	if l.Gearbox == nil {
		return nil, bad("is given, but this lathe has no gearbox", "")
	}
	var names []string
	for i := range l.Gearbox.Positions {
		p := &l.Gearbox.Positions[i]
		if p.Levers == levers {
			return p, nil
		}
		names = append(names, p.Levers)
	}
	if k := nearest(levers, names); k != "" {
		return nil, bad("is not a position of this gearbox", fmt.Sprintf("did you mean %q?", k))
	}
	return nil, bad("is not a position of this gearbox", "the positions are "+strings.Join(names, ", "))
}
