package app

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

const (
	authorityLasts = 3 * 365 * 24 * time.Hour
	leafLasts      = 90 * 24 * time.Hour
	leafRenew      = 30 * 24 * time.Hour // a leaf with less than this left is made anew
)

// privateRanges are the addresses that an authority may vouch for besides those of
// its own computer: RFC 1918, RFC 4193, link-local and loopback.
var privateRanges = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}

// authority vouches for this bench alone: its certificate is constrained by name to
// this computer and private addresses, so that a phone that trusts it trusts no
// other site by it. The key never leaves the data folder.
type authority struct {
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	now  func() time.Time
	here func() reach // names and addresses by which the computer can be reached now

	mu   sync.Mutex
	leaf *tls.Certificate
}

// openAuthority reads the authority in a folder, or makes one. It is made anew when
// it has run out or the computer has another name.
func openAuthority(dir string, now func() time.Time, here func() reach) (*authority, error) {
	a := &authority{now: now, here: here}
	file := filepath.Join(dir, "authority.pem")
	text, err := os.ReadFile(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return a, a.create(file)
	case err != nil:
		return nil, err
	}
	if a.cert, a.key, err = readAuthority(text); err != nil {
		return nil, fmt.Errorf("%s: %w; remove it to have a new one made", file, err)
	}
	if info, err := os.Stat(file); err == nil && info.Mode().Perm()&0o077 != 0 {
		if err := os.Chmod(file, 0o600); err != nil {
			return nil, err
		}
	}
	if now().After(a.cert.NotAfter.Add(-leafLasts)) || !slices.Equal(a.cert.PermittedDNSDomains, here().names) {
		return a, a.create(file)
	}
	return a, nil
}

func readAuthority(text []byte) (*x509.Certificate, *ecdsa.PrivateKey, error) {
	first, rest := pem.Decode(text)
	second, _ := pem.Decode(rest)
	if first == nil || second == nil || first.Type != "CERTIFICATE" || second.Type != "EC PRIVATE KEY" {
		return nil, nil, errors.New("is no certificate with its key")
	}
	cert, err := x509.ParseCertificate(first.Bytes)
	if err != nil {
		return nil, nil, err
	}
	key, err := x509.ParseECPrivateKey(second.Bytes)
	if err == nil && !key.PublicKey.Equal(cert.PublicKey) {
		err = errors.New("key and certificate do not belong together")
	}
	return cert, key, err
}

// create makes an authority and writes it, readable by its owner alone.
func (a *authority) create(file string) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	serial, err := newSerial()
	if err != nil {
		return err
	}
	at := a.here()
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "Thrum bench on " + at.names[0]},
		NotBefore: a.now().Add(-time.Hour), NotAfter: a.now().Add(authorityLasts),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign,
		ExtKeyUsage:                 []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, // no mail, no programs
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: at.names,
	}
	for _, r := range privateRanges {
		_, n, err := net.ParseCIDR(r)
		if err != nil {
			return err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, n)
	}
	for _, ip := range at.addresses {
		if !within(t.PermittedIPRanges, ip) {
			t.PermittedIPRanges = append(t.PermittedIPRanges, only(ip))
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, key.Public(), key)
	if err != nil {
		return err
	}
	if a.cert, err = x509.ParseCertificate(der); err != nil {
		return err
	}
	secret, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		return err
	}
	a.key = key
	var b bytes.Buffer
	if err := errors.Join(pem.Encode(&b, &pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.Encode(&b, &pem.Block{Type: "EC PRIVATE KEY", Bytes: secret})); err != nil {
		return err
	}
	if err := os.WriteFile(file+".new", b.Bytes(), 0o600); err != nil {
		return err
	}
	return os.Rename(file+".new", file)
}

func newSerial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

func within(ranges []*net.IPNet, ip net.IP) bool {
	return slices.ContainsFunc(ranges, func(n *net.IPNet) bool { return n.Contains(ip) })
}

// only is the range of a single address.
func only(ip net.IP) *net.IPNet {
	if v4 := ip.To4(); v4 != nil {
		return &net.IPNet{IP: v4, Mask: net.CIDRMask(32, 32)}
	}
	return &net.IPNet{IP: ip, Mask: net.CIDRMask(128, 128)}
}

// certificate gives the leaf for a connection. It is made anew when an address of
// the computer is not in it, or it soon runs out. Addresses outside what the
// authority may vouch for are left out.
func (a *authority) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	at := a.here()
	want := slices.DeleteFunc(slices.Clone(at.addresses), func(ip net.IP) bool { return !within(a.cert.PermittedIPRanges, ip) })
	if a.leaf != nil && a.now().Before(a.leaf.Leaf.NotAfter.Add(-leafRenew)) && slices.EqualFunc(a.leaf.Leaf.IPAddresses, want, net.IP.Equal) {
		return a.leaf, nil
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: at.names[0]},
		NotBefore: a.now().Add(-time.Hour), NotAfter: a.now().Add(leafLasts),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: at.names, IPAddresses: want,
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, err
	}
	a.leaf = &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: leaf}
	return a.leaf, nil
}
