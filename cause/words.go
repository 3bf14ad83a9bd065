package cause

// remedy says what to do about a cause when it is the true one.
func (k Kind) remedy() string {
	switch k {
	case Waves:
		return "change the spindle speed by 15 to 30 % for the last three cutting passes, each deeper than the marks (spring passes leave them); make the set-up stiffer: centre in, shorter stick-out; take the infeed along the flank, or a smaller tip"
	case Gears:
		return "clean, grease and re-mesh the gears (a strip of paper as gauge); drive the spindle by belt without back gear if it can be; feeds and speeds will not cure it"
	case Ringing:
		return "make what rings stiffer or dampen it: centre in, shorter stick-out, tighter gibs, lighter entry; find out what strikes it"
	case Motor:
		return "check motor mounts, belts and their joints, and pulleys; feeds and speeds will not cure it"
	case Tearing:
		return "steel: much slower with active oil, or much faster with carbide; a sharper edge with more rake; finish with passes deep enough to cut on both flanks"
	case Quiet:
		return "nothing to cure by what was heard; if there are marks on the thread, record the passes that make them"
	}
	return "look for what is not on the list: a loose tool, a chip in the way, the floor"
}
