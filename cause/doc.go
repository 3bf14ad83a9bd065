// Package cause names what made the marks on a thread, from what was heard, seen
// and computed, and says how sure that is.
//
// Six causes are weighed. Waves that grow from pass to pass: the tool meets the
// waves of the last pass and cuts them deeper; the tone sits at a natural
// frequency whatever the speed, and each pass is louder by the same factor.
// Ringing: the same natural frequency, set off by shocks or by the cut, but no
// louder in the last pass than the cut itself accounts for. Gears: the waves per
// turn are a tooth count, at every speed; the tone rises with the spindle. Motor,
// belt and mains: the tone keeps to the clock, and it is there without cutting.
// Tearing: no tone, a crackle of short bursts over all frequencies. Quiet: a
// steady hiss and nothing else. What fits none of these is "other".
//
// Each tone of a recording gets a likelihood under each cause from: the known
// line it lies on, weighed by how easily a tone lies on some line by chance; its
// growth from pass to pass against the hiss of the cut; whether it is there
// without cutting; how it wanders; natural frequencies computed or knocked; and, with
// recordings at two speeds, whether its frequency or its waves per turn stayed the
// same. The tones then speak in proportion to their share of the sound, and what
// they leave over speaks by its crackle. Marks counted on the thread say which
// tone made them. Bayes' rule with even odds beforehand gives the probabilities.
//
// A probability here is not a measured frequency of being right: the spreads
// behind it are round figures from physics and from made recordings. Evidence of
// one kind can be wrong in ways that this package does not know, so what is stated
// is capped: 90 % from one recording at one speed, 97 % with more. Below one half,
// or when a single tone is all there is, the answer is "cannot tell". With every
// answer comes the one cheap test that parts the two likeliest causes best.
//
// When not to trust it: a microphone hears the room, so a compressor next door is
// "ringing" or "motor"; marks from two causes at once are given to the louder; a
// telephone that levels the sound hides growth; that waves do grow from pass to
// pass on single-point threads is mathematics and simulation, not a published
// experiment.
package cause
