package web

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every address in the table of capabilities answers; a capability without a page
// says why.
func TestCapabilityPages(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "docs", "capabilities.md"))
	if err != nil {
		t.Fatal(err)
	}
	s := newShop(t).server
	asked := 0
	for _, line := range strings.Split(string(doc), "\n") {
		cells := strings.Split(line, "|")
		if len(cells) < 5 || strings.HasPrefix(strings.TrimSpace(cells[1]), "-") || strings.TrimSpace(cells[1]) == "capability" {
			continue
		}
		page := strings.Trim(strings.TrimSpace(cells[3]), "`")
		if !strings.HasPrefix(page, "/") {
			if reason, ok := strings.CutPrefix(page, "none: "); !ok || len(reason) < 10 {
				t.Errorf("%s: %q is neither an address nor a reason", strings.TrimSpace(cells[1]), page)
			}
			continue
		}
		asked++
		r := httptest.NewRequest(http.MethodGet, page, nil)
		r.Host = "localhost"
		w := httptest.NewRecorder()
		s.ServeHTTP(w, r)
		if w.Code != http.StatusOK || w.Body.Len() == 0 {
			t.Errorf("%s: status %d, %d bytes", page, w.Code, w.Body.Len())
		}
	}
	if asked < 10 {
		t.Errorf("only %d addresses in docs/capabilities.md", asked)
	}
}
