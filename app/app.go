// Package app builds the bench from a Config: store, queue and pages in one
// process. The command uses it, and so do tests, which give it a clock, a folder
// of their own and port 0.
package app

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"thrum/job"
	"thrum/store"
	"thrum/web"
)

// Config says where the bench keeps its data and where it can be reached.
type Config struct {
	Data     string // folder; made when it does not exist
	Database string // address of a PostgreSQL database; empty means a file in Data
	Blobs    string // address of a bucket for photographs and recordings; empty means a folder in Data
	Address  string // host:port; port 0 takes a free one
	Lan      bool   // listen to the workshop's network too, plain and over HTTPS
	Secure   string // host:port for HTTPS with Lan; empty: all addresses, one port above Address
	// Public is the host:port of a second listener, where anybody may vote on the
	// blind pairs of open polls and see nothing else; empty: none. PublicURL is how
	// visitors reach it, when a name or a web server stands before it; PublicRate is
	// how many requests a second one address may make there, 0 for the usual.
	Public, PublicURL string
	PublicRate        float64
	Version           string
	Now               func() time.Time // nil means time.Now
	NewID             func() string    // nil means random UUIDs
	Log               *slog.Logger     // nil means slog.Default
}

// App is a bench that is ready to run.
type App struct {
	config   Config
	log      *slog.Logger
	Store    *store.Store
	pages    *web.Server
	queue    job.Queue
	listener net.Listener
	secure   net.Listener // nil without Lan
	public   net.Listener // nil without Public
	reached  reached
}

// New opens the store, makes the pages and takes the address. Whoever calls it
// calls Run or Close.
func New(ctx context.Context, c Config) (*App, error) {
	a := &App{config: c, log: c.Log}
	if a.log == nil {
		a.log = slog.Default()
	}
	if c.Address == "" {
		c.Address = "127.0.0.1:8470"
	}
	var err error
	if a.Store, err = openStore(ctx, c, a.log); err != nil {
		return nil, err
	}
	if err := a.serve(c); err != nil {
		return nil, errors.Join(err, a.Store.Close())
	}
	return a, nil
}

func (a *App) serve(c Config) (err error) {
	address := c.Address
	if c.Lan {
		if address, err = everywhere(c.Address); err != nil {
			return fmt.Errorf("address %s: %w", c.Address, err)
		}
	}
	if a.listener, err = net.Listen("tcp", address); err != nil {
		return fmt.Errorf("address %s: %w", address, err)
	}
	hosts, err := hostsOf(c.Address)
	if err != nil {
		return err
	}
	var open web.Net
	if c.Lan {
		if open, err = a.openNet(c); err != nil {
			return errors.Join(err, a.listener.Close())
		}
	}
	if a.queue, err = job.New(a.Store, kinds(a.Store), job.Options{}); err != nil {
		return err
	}
	if c.Public != "" {
		if a.public, err = net.Listen("tcp", c.Public); err != nil {
			return fmt.Errorf("public address %s: %w", c.Public, err)
		}
	}
	a.pages, err = web.New(web.Config{
		PublicURL: a.PublicURL(), Store: a.Store, Queue: a.queue, Hosts: hosts, Pair: true, Net: open, Convert: convert(), Version: c.Version, Log: a.log, Now: c.Now,
	})
	return err
}

// everywhere is an address on all networks with the port of another.
func everywhere(address string) (string, error) {
	host, port, err := net.SplitHostPort(address)
	if ip := net.ParseIP(host); err == nil && ip != nil && !ip.IsLoopback() {
		return address, nil // a network was chosen
	}
	return net.JoinHostPort("", port), err
}

// openNet takes the second address, for HTTPS, and says how phones find both.
func (a *App) openNet(c Config) (web.Net, error) {
	now := c.Now
	if now == nil {
		now = time.Now
	}
	plain := port(a.listener)
	if c.Secure == "" {
		n, err := strconv.Atoi(plain)
		if err != nil {
			return web.Net{}, err
		}
		c.Secure = net.JoinHostPort("", strconv.Itoa(n+1))
	}
	au, err := openAuthority(a.Store.Dir(), now, a.reached.now)
	if err != nil {
		return web.Net{}, err
	}
	l, err := net.Listen("tcp", c.Secure)
	if err != nil {
		return web.Net{}, fmt.Errorf("address %s: %w", c.Secure, err)
	}
	a.secure = tls.NewListener(l, &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: au.certificate, NextProtos: []string{"http/1.1"}})
	return web.Net{
		Addresses: func() []string { return a.reached.now().phones("http", plain) },
		Secure:    func() []string { return a.reached.now().phones("https", port(l)) },
		Knows:     func(host string) bool { return a.reached.now().knows(host) },
		Authority: au.cert.Raw,
	}, nil
}

func port(l net.Listener) string {
	_, p, err := net.SplitHostPort(l.Addr().String())
	if err != nil {
		return ""
	}
	return p
}

// Phones lists the addresses under which phones find the bench, plain ones first.
func (a *App) Phones() []string {
	if a.secure == nil {
		return nil
	}
	return append(a.reached.now().phones("http", port(a.listener)), a.reached.now().phones("https", port(a.secure))...)
}

// hostsOf lists the names by which the server may be called: those of this
// computer alone, or when it is open to a network its name and addresses too.
func hostsOf(address string) ([]string, error) {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return nil, err
	}
	hosts := []string{"localhost", "127.0.0.1", "::1"}
	ip := net.ParseIP(host)
	if host == "localhost" || ip != nil && ip.IsLoopback() {
		return hosts, nil
	}
	if host != "" && (ip == nil || !ip.IsUnspecified()) {
		return append(hosts, strings.ToLower(host)), nil
	}
	if name, err := os.Hostname(); err == nil {
		hosts = append(hosts, strings.ToLower(name), strings.ToLower(name)+".local")
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		return nil, err
	}
	for _, ad := range addrs {
		if n, ok := ad.(*net.IPNet); ok && !slices.Contains(hosts, n.IP.String()) {
			hosts = append(hosts, n.IP.String())
		}
	}
	return hosts, nil
}

// URL is where the bench can be reached from this computer.
func (a *App) URL() string {
	host, port, err := net.SplitHostPort(a.listener.Addr().String())
	if err != nil {
		return ""
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	return "http://" + net.JoinHostPort(host, port)
}

// Run serves until ctx is done, then lets running answers end for a moment.
func (a *App) Run(ctx context.Context) error {
	server := &http.Server{
		Handler:           a.pages,
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       30 * time.Second,
		WriteTimeout:      60 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
		ErrorLog:          slog.NewLogLogger(a.log.Handler(), slog.LevelWarn),
	}
	working, rest := context.WithCancel(ctx)
	visitors := a.visitors()
	worked := make(chan error, 1)
	go func() { worked <- a.queue.Run(working) }()
	go sweep(working, a.Store, a.log)
	stopped := make(chan error, 3)
	go func() { stopped <- server.Serve(a.listener) }()
	if a.secure != nil {
		go func() { stopped <- server.Serve(a.secure) }()
	}
	if a.public != nil {
		go func() { stopped <- visitors.Serve(a.public) }()
	}
	var err error
	select {
	case <-ctx.Done():
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer cancel()
		for _, one := range []*http.Server{visitors, server} {
			e := one.Shutdown(end)
			if errors.Is(e, context.DeadlineExceeded) {
				e = one.Close()
			}
			err = errors.Join(err, e)
		}
	case err = <-stopped:
	}
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	rest()
	return errors.Join(err, <-worked, a.Store.Close())
}

// Close gives back what New took, when Run is not called.
func (a *App) Close() error {
	err := a.listener.Close()
	if a.secure != nil {
		err = errors.Join(err, a.secure.Close())
	}
	if a.public != nil {
		err = errors.Join(err, a.public.Close())
	}
	return errors.Join(err, a.Store.Close())
}
