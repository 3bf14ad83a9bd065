// Package made makes recordings and pictures of threads that were never cut, for
// examples, for trials of the measuring packages and for the stories in the documentation.
//
// A Setup says in a machinist's words what is cut: bar, centre, material, tool,
// passes and speeds. Its Cutting is followed through time by vibe.Simulate, and the
// movement of the tool against the work becomes
//
//   - a Recording: what a microphone by the lathe would take, pass after pass with the
//     pauses between them (Listen, Recording.WAV), and
//   - a picture: the simulated surface wound round the thread and seen through a lens under
//     a lamp that rakes along the flanks (Picture).
//
// Both are honest as far as they go and no farther. The sound is the speed of the
// vibration, scaled, with noise: a room, a lathe's own panels and a telephone's
// microphone are not in it, so pitch, growth from pass to pass and timing mean
// something and timbre does not. The picture is a grey surface under one lamp: shape and
// shading mean something; colour, burrs, chips and torn metal are not there.
// Everything random comes from a seed; the same call makes the same bytes.
package made
