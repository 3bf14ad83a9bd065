package draw

import "thrum/unit"

const knockMargin mm = 0.5

// footOf returns the point on the foot line that belongs to the anchor.
func footOf(at Pt, st Style) Pt {
	down := mm(0)
	switch st.Rise {
	case Half:
		down = st.Cap() / 2
	case Cap:
		down = st.Cap()
	}
	return at.Polar(down, st.Turn-90*unit.Degree)
}

// startOf returns the point where the first letter stands.
func startOf(at Pt, s string, st Style) Pt {
	at = footOf(at, st)
	switch st.Anchor {
	case Middle:
		return at.Polar(-st.Width(s)/2, st.Turn)
	case End:
		return at.Polar(-st.Width(s), st.Turn)
	}
	return at
}

// textCorners returns the corners of the rectangle that a line of text fills,
// from its foot to the top of its capitals, enlarged by a margin; a quarter of
// the size is added below for g and p.
func textCorners(at Pt, s string, st Style, margin mm) []Pt {
	w := st.Width(s)
	a := startOf(at, s, st)
	up := st.Turn + 90*unit.Degree
	lo := a.Polar(-margin, st.Turn).Polar(-margin-descent(s)*st.size(), up)
	h := st.Cap() + 2*margin + descent(s)*st.size()
	hi := lo.Polar(h, up)
	return []Pt{lo, lo.Polar(w+2*margin, st.Turn), hi.Polar(w+2*margin, st.Turn), hi}
}

// descent is the depth of letters below the line over the size.
func descent(s string) mm {
	for _, r := range s {
		switch r {
		case 'g', 'j', 'p', 'q', 'y', ',', ';', '(', ')', '[', ']', '⌀', 'Q', 'µ', '|', '/':
			return 0.2
		}
	}
	return 0
}
