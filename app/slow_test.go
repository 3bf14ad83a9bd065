package app

import (
	"io"
	"net"
	"strings"
	"testing"
	"time"
)

// Who opens a connection and says nothing, or only half a head, is cut off: others
// need the place.
func TestSlowClientsAreCutOff(t *testing.T) {
	a := running(t)
	for _, sent := range []string{"", "GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: "} {
		c, err := net.Dial("tcp", strings.TrimPrefix(a.URL(), "http://"))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.WriteString(c, sent); err != nil {
			t.Fatal(err)
		}
		_ = c.SetReadDeadline(time.Now().Add(time.Minute)) // well beyond the five seconds
		if _, err := io.ReadAll(c); err != nil {
			t.Errorf("after %q the connection stayed open: %v", sent, err)
		}
		c.Close()
	}
}
