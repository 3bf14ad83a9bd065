package app

import (
	"log/slog"
	"net"
	"net/http"
	"strings"
	"time"

	"thrum/web"
)

// PublicURL is where visitors vote: as configured, else the address of the public
// listener, with an address of this computer's network for one that listens on all.
// Empty when there is no such listener.
func (a *App) PublicURL() string {
	if a.public == nil {
		return ""
	}
	if a.config.PublicURL != "" {
		return strings.TrimRight(a.config.PublicURL, "/")
	}
	host, p, err := net.SplitHostPort(a.public.Addr().String())
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip == nil || ip.IsUnspecified() {
		host = "127.0.0.1"
		addrs, _ := net.InterfaceAddrs() // none known: this computer's own
		for _, ad := range addrs {
			if n, ok := ad.(*net.IPNet); ok && n.IP.To4() != nil && !n.IP.IsLoopback() && !n.IP.IsLinkLocalUnicast() {
				host = n.IP.String()
				break
			}
		}
	}
	return "http://" + net.JoinHostPort(host, p)
}

// visitors is the server of the public listener: the booth's handler and no other,
// with less patience than the bench has.
func (a *App) visitors() *http.Server {
	rate := a.config.PublicRate
	if rate == 0 {
		rate = web.PublicRate
	}
	return &http.Server{
		Handler:           a.pages.Public(rate),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       10 * time.Second,
		WriteTimeout:      30 * time.Second,
		IdleTimeout:       30 * time.Second,
		MaxHeaderBytes:    8 << 10,
		ErrorLog:          slog.NewLogLogger(a.log.Handler(), slog.LevelDebug), // who comes is not written down
	}
}
