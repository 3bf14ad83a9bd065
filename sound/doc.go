// Package sound measures recordings: what a part rings at when it is tapped, and
// what was heard while a thread was cut. It measures only; what the tones mean is
// judged elsewhere.
//
// A slender part in a lathe is a spring with a weight on it. Tap it, and it rings
// at its natural frequencies; each ring dies away at a rate that says how well
// the set-up soaks up vibration. Those two figures per mode, frequency and
// damping, decide whether waves grow from one pass of a thread to the next, and
// they cannot be read from a drawing: the chuck, the centre and the slides matter
// as much as the bar. So tap it: five to ten light taps with something hard, at
// least half a second apart, the telephone a hand's breadth away, once with the
// centre in and once without. Knock finds the taps, throws out those that were
// struck twice, clipped, too weak or cut short, fits dying sine waves to each of
// the rest, and gives every figure with an interval. CompareKnock says what the
// centre changed, and says so when the taps cannot tell.
//
// Listen takes a recording of cutting. It finds the passes (when the tool was
// cutting), the tones in each, and which of them belong to lines known
// beforehand: the spindle's own turns, each pair of gears in mesh, the mains and
// the motor. What is left over is free: a mode of the part, the tool or the
// machine, or noise. It refines the spindle speed from the recording itself and
// reports when that contradicts the speed that was given. Above about thirty
// waves per turn one per cent of error in the speed is a third of a wave per
// turn, so a tone is tested for a whole number of waves only where the speed is
// known well enough, and otherwise the answer is that this cannot be told.
//
// Recordings are WAV, FLAC, MP3 or Opus files, or a log of an accelerometer as
// comma-separated values. What a file is, is read from its contents and never
// from its name. A Stream hands out samples block by block, so an hour of stereo
// needs no more memory than a second. Telephones change the loudness as they go
// and cut away what they take for noise: frequencies survive that, levels are
// comparable within one take only.
//
// When not to trust it: a single tap says nothing of how taps differ; a
// microphone hears the whole room, so the mode of a steel bench is found as
// readily as that of the part; a mode that hardly moves where you tap, or hardly
// moves along the direction of the tap, is not heard at all.
package sound
