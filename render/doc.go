// Package render shows a Plan or a Finding: as text for the terminal, as drawings
// and charts for the page and for paper. It computes nothing that a machinist
// would act on; every figure is taken from the value it is given.
package render
