package web

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"
	"time"

	"rsc.io/qr"

	"thrum/store"
)

// devicesRoutes lists the addresses about phones and tablets.
func (s *Server) devicesRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /devices", s.devicesShow)
	m.HandleFunc("POST /devices/code", s.deviceCode)
	m.HandleFunc("POST /devices/{id}/revoke", s.deviceRevoke)
	m.HandleFunc("GET /pair", s.pairShow)
	m.HandleFunc("POST /pair", s.pairUse)
	m.HandleFunc("GET /authority.cer", s.authority)
}

type devicesPage struct {
	frame
	Here      bool // the bench computer itself asks
	Open      bool // the bench can be reached from the network
	Code      string
	Until     time.Time
	Ways      []wayIn
	Secure    []string
	Print     string // of the authority's certificate
	Devices   []deviceLine
	Revoked   int
	SecureNow bool
}

type wayIn struct {
	Address string
	QR      template.HTML
}

type deviceLine struct {
	ID, Name string
	At       time.Time
	Self     bool
	Role     store.Role
	Roles    []store.Role // that it may be given by whoever looks
}

func (s *Server) devicesShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	page := devicesPage{frame: s.frame(r, "Phones and tablets", ""), Here: roleOf(r) == store.Owner, SecureNow: r.TLS != nil}
	all, err := s.config.Store.Devices(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, d := range all {
		if d.Revoked {
			page.Revoked++
			continue
		}
		page.Devices = append(page.Devices, deviceLine{d.ID, d.Name, d.CreatedAt, d.ID == deviceOf(r), d.Role, store.Roles()})
	}
	if n := s.config.Net; n.Addresses != nil {
		page.Open = true
		if page.Here {
			page.Code, page.Until = s.pairing.current(s.config.Now())
		}
		for _, a := range n.Addresses() {
			way := wayIn{Address: a}
			if page.Code != "" {
				way.QR = qrOf(a+"/pair?code="+page.Code, "QR code: opens the bench on the phone and carries the code")
			}
			page.Ways = append(page.Ways, way)
		}
		if len(n.Authority) > 0 && n.Secure != nil {
			page.Secure, page.Print = n.Secure(), fingerprint(n.Authority)
		}
	}
	s.show(w, r, http.StatusOK, "devices", page)
}

// fingerprint is what the phone shows of a certificate, to compare the two.
func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	h := strings.ToUpper(hex.EncodeToString(sum[:]))
	return strings.Join(chunks(h, 4), " ")
}

func chunks(s string, n int) []string {
	var out []string
	for ; len(s) > n; s = s[n:] {
		out = append(out, s[:n])
	}
	return append(out, s)
}

// qrOf draws a QR code; dark on light in every theme, since cameras expect it so.
func qrOf(text, label string) template.HTML {
	c, err := qr.Encode(text, qr.M)
	if err != nil {
		return ""
	}
	const edge = 4
	var b strings.Builder
	n := c.Size + 2*edge
	fmt.Fprintf(&b, `<svg class="dv-qr" viewBox="0 0 %d %d" role="img" aria-label="%s" shape-rendering="crispEdges"><rect width="%d" height="%d" fill="#fff"/><path fill="#000" d="`, n, n, template.HTMLEscapeString(label), n, n)
	for y := range c.Size {
		for x := range c.Size {
			if c.Black(x, y) {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+edge, y+edge)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String())
}

// deviceCode makes a code; only the bench computer may.
func (s *Server) deviceCode(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	if roleOf(r) != store.Owner {
		s.fail(w, r, http.StatusForbidden, "Only the bench computer and an owner’s device make codes", "Open the page of devices there.")
		return
	}
	if _, err := s.pairing.fresh(s.config.Now()); err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}

// deviceRevoke shuts a device out: the bench computer any, a phone itself.
func (s *Server) deviceRevoke(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	id := r.PathValue("id")
	if me := deviceOf(r); roleOf(r) != store.Owner && me != id {
		s.fail(w, r, http.StatusForbidden, "Only the bench computer and an owner’s device shut others out", "Open the page of devices there.")
		return
	}
	err := s.config.Store.RevokeDevice(r.Context(), id)
	if err != nil && store.CodeOf(err) != store.NotFound {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/devices", http.StatusSeeOther)
}

type pairPage struct {
	frame
	Code, To, Fault string
	Paired          bool
}

func (s *Server) pairShow(w http.ResponseWriter, r *http.Request) {
	s.showPair(r, w, http.StatusOK, short(r.URL.Query().Get("code"), codeDigits+2), "", "")
}

func (s *Server) showPair(r *http.Request, w http.ResponseWriter, status int, code, to, fault string) {
	page := pairPage{frame: s.frame(r, "Pair this device", ""), Code: code, To: back(to), Fault: fault, Paired: deviceOf(r) != ""}
	page.Here, page.Keeps = "/pair", page.Paired
	s.show(w, r, status, "pair", page)
}

// pairUse takes the code and gives the device its cookie.
func (s *Server) pairUse(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	code := strings.Map(func(c rune) rune {
		if c >= '0' && c <= '9' {
			return c
		}
		return -1
	}, r.PostForm.Get("code"))
	name, to := strings.TrimSpace(r.PostForm.Get("name")), r.PostForm.Get("to")
	if name == "" || len(name) > mostName || strings.ContainsFunc(name, func(c rune) bool { return c < ' ' }) {
		s.showPair(r, w, http.StatusUnprocessableEntity, code, to, fmt.Sprintf("Give the device a name of at most %d letters.", mostName))
		return
	}
	if !s.pairing.use(code, s.config.Now()) {
		s.log.Warn("pairing refused", "from", r.RemoteAddr)
		s.showPair(r, w, http.StatusForbidden, "", to, "That is not the code, or it has run out. After ten wrong ones, or ten minutes, make a new one on the bench computer.")
		return
	}
	secret, err := newSecret()
	if err == nil {
		_, err = s.config.Store.AddDevice(r.Context(), store.Device{Name: name, Hash: hashOf(secret)})
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: deviceCookie, Value: secret, Path: "/", MaxAge: cookieYears, HttpOnly: true, SameSite: http.SameSiteStrictMode, Secure: r.TLS != nil,
	})
	if to = back(to); to == "/" {
		to = "/pieces"
	}
	if u, err := url.Parse(to); err != nil || u.Path == "/pair" {
		to = "/pieces"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// authority sends the certificate that makes a phone trust the bench's HTTPS.
func (s *Server) authority(w http.ResponseWriter, r *http.Request) {
	if len(s.config.Net.Authority) == 0 {
		s.nothingHere(w, r)
		return
	}
	w.Header().Set("Content-Disposition", `attachment; filename="thrum-bench.cer"`)
	send(w, "application/x-x509-ca-cert", s.config.Net.Authority)
}
