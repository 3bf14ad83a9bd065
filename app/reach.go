package app

import (
	"net"
	"os"
	"slices"
	"strings"
	"sync"
	"time"
)

// reach is how the computer can be reached: by which names and addresses.
type reach struct {
	names     []string // its own first, then name.local, localhost
	addresses []net.IP // of its network cards, then loopback
}

// reached reads names and addresses, at most every few seconds: a router may give
// the computer another address while the bench runs.
type reached struct {
	mu   sync.Mutex
	last reach
	at   time.Time
}

const reachLasts = 5 * time.Second

func (r *reached) now() reach {
	r.mu.Lock()
	defer r.mu.Unlock()
	if time.Since(r.at) > reachLasts {
		r.last, r.at = look(), time.Now()
	}
	return r.last
}

// look asks the operating system.
func look() reach {
	var r reach
	if name, err := os.Hostname(); err == nil && name != "" {
		name = strings.ToLower(strings.TrimSuffix(name, "."))
		r.names = append(r.names, name)
		if !strings.HasSuffix(name, ".local") {
			r.names = append(r.names, name+".local")
		}
	}
	if !slices.Contains(r.names, "localhost") {
		r.names = append(r.names, "localhost")
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil {
		addrs = nil // a computer without a network
	}
	var last []net.IP
	for _, a := range addrs {
		n, ok := a.(*net.IPNet)
		switch {
		case !ok || n.IP.IsMulticast():
		case n.IP.IsLoopback():
			last = append(last, n.IP)
		default:
			r.addresses = append(r.addresses, n.IP)
		}
	}
	// Addresses with dots first: they are what people type.
	slices.SortStableFunc(r.addresses, func(a, b net.IP) int { return len(b.To4()) - len(a.To4()) })
	r.addresses = append(r.addresses, last...)
	return r
}

// knows tells whether a name or address is this computer's.
func (r reach) knows(host string) bool {
	if ip := net.ParseIP(host); ip != nil {
		return slices.ContainsFunc(r.addresses, ip.Equal)
	}
	return slices.Contains(r.names, host)
}

// phones lists the addresses under which a phone finds the bench.
func (r reach) phones(scheme, port string) []string {
	var out []string
	for _, ip := range r.addresses {
		if ip.IsLoopback() || ip.IsLinkLocalUnicast() {
			continue
		}
		out = append(out, scheme+"://"+net.JoinHostPort(ip.String(), port))
	}
	return out
}
