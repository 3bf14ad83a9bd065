// Package dsp holds the signal arithmetic that the measuring packages share:
// windows, averaged spectra, peaks between bins, decimation, the matrix pencil and
// the least-squares fit of dying sine waves.
//
// Numbers here are plain: samples, samples per second, hertz, seconds. The
// packages that use it put the quantities on. Fourier transforms, singular values
// and eigenvalues come from gonum. Nothing here keeps state between calls, except
// where a type says that it does.
package dsp
