// Package photo reads the marks on the flanks of an outside thread from one
// ordinary close-up photograph: how many marks there are in a turn, how sure that
// is, and what the flanks look like.
//
// No ruler is needed, since the pitch is the scale. A crest repeats every pitch
// along the axis, so the picture's pixels are known in millimetres; the outside
// diameter, read with a micrometer, then says how the surface curves away above
// and below the centre line, and the height of the silhouettes against the pitch
// says how far the camera was. Find works all this out and Geometry.Overlay draws
// it over the picture, where it is to be checked: nearly everything that goes
// wrong goes wrong here, and Marks puts it right by hand.
//
// Read then follows each groove round, on both flanks and along the root, and
// straightens it. Chatter leaves ripples at equal angles, the same across the whole
// groove, because the tool cuts both flanks at once. So the brightness along the
// groove is turned into a spectrum in marks per turn, the spectra of all turns are
// put together, and the turns vote: a number counts where most of them show it by
// themselves. A ripple that is even in the picture and not on the thread, as lamps
// and cameras make, is told apart by that.
//
// A refused reading says why, and how to take a better photograph. That no regular
// marks were found does not say that there is no chatter: marks lit along the axis
// cannot be seen, however deep. An accepted number carries at least one per cent of
// uncertainty, since that is what the geometry is worth.
//
// How strongly the marks show (Index) depends on the lamp and on the slope of the
// marks, so it may be compared only between photographs taken in one go. At equal
// height twice as many marks per turn are twice as steep and look twice as strong.
//
// When not to trust it: tapered and inside threads, a camera that looks along the
// thread at a slant, a screw bent or cut with a drifting spindle speed, photographs
// that a telephone has smoothed or sharpened heavily. It was tried on photographs
// made by two programs and on real ground grooves without chatter; photographs of
// real chattered threads with a known number of marks are still wanted.
package photo
