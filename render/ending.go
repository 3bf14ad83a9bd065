package render

import "thrum/plan"

// EndingWords says how a pass is ended, after "end each pass by".
func EndingWords(name string) string {
	switch name {
	case plan.EndOpen:
		return "opening the half nuts"
	case plan.EndPullOut:
		return "pulling the tool out"
	case plan.EndStop:
		return "stopping the motor"
	case plan.EndBrake:
		return "braking the spindle"
	case plan.EndKickOut:
		return "a kick-out"
	case plan.EndClutch:
		return "a single-tooth clutch"
	case plan.EndScrew:
		return "an electronic leadscrew"
	case plan.EndHandTurn:
		return "turning the spindle by hand"
	case plan.EndAway:
		return "cutting away from the chuck"
	case plan.EndSameLine:
		return "opening, and closing on the same line in reverse"
	}
	return name
}
