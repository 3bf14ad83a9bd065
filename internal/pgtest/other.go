//go:build !linux

// Package pgtest gives tests a real PostgreSQL server; on systems other than
// Linux there is none, and tests that need it are skipped.
package pgtest

import (
	"os"
	"testing"
)

// Run runs the tests.
func Run(m *testing.M) int { return m.Run() }

// URL skips the test.
func URL(t testing.TB) string {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal("PostgreSQL: the test server runs on Linux only")
	}
	t.Skip("PostgreSQL: the test server runs on Linux only")
	return ""
}
