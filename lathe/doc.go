// Package lathe describes one lathe.
package lathe
