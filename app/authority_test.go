package app

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A leaf is good for this computer; what the authority signs for any other name or
// address a verifier refuses, whoever holds its key. The verifier is Go's own
// (RFC 5280, 4.2.1.10).
func TestAuthority(t *testing.T) {
	dir := t.TempDir()
	now := time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC)
	at := reach{names: []string{"shed", "shed.local", "localhost"}, addresses: []net.IP{net.IPv4(192, 168, 7, 5), net.IPv4(127, 0, 0, 1)}}
	clock, here := func() time.Time { return now }, func() reach { return at }
	a, err := openAuthority(dir, clock, here)
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(dir, "authority.pem")
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("the key's file: %v, %v", info.Mode(), err)
	}
	leaf := leafOf(t, a)
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	verify := func(c *x509.Certificate, name string) error {
		_, err := c.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: now})
		return err
	}
	for _, name := range []string{"shed", "shed.local", "localhost", "192.168.7.5", "127.0.0.1"} {
		if err := verify(leaf, name); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if verify(leaf, "192.168.7.6") == nil || verify(leaf, "other.example") == nil {
		t.Error("the leaf is good for another computer")
	}
	for _, name := range []string{"bank.example", "8.8.8.8", "shed.example", "2001:db8::1"} {
		c := signed(t, a, name, now)
		if err := verify(c, name); err == nil {
			t.Errorf("the authority vouches for %s", name)
		}
	}
	if err := verify(signed(t, a, "10.1.2.3", now), "10.1.2.3"); err != nil {
		t.Errorf("a private address: %v", err)
	}

	// Read again it is the same one, its file closed to others.
	if err := os.Chmod(file, 0o644); err != nil {
		t.Fatal(err)
	}
	b, err := openAuthority(dir, clock, here)
	if err != nil || !bytes.Equal(b.cert.Raw, a.cert.Raw) {
		t.Fatalf("read again: %v", err)
	}
	if info, _ := os.Stat(file); info.Mode().Perm() != 0o600 {
		t.Errorf("the key's file is left at %v", info.Mode())
	}
	// Another address: another leaf from the same authority. Kept while nothing changes.
	if !bytes.Equal(leafOf(t, b).Raw, leafOf(t, b).Raw) {
		t.Error("the leaf is made anew for each connection")
	}
	at.addresses = []net.IP{net.IPv4(192, 168, 7, 9), net.IPv4(127, 0, 0, 1)}
	if err := verify(leafOf(t, b), "192.168.7.9"); err != nil {
		t.Errorf("after the address changed: %v", err)
	}
	first := leafOf(t, b)
	now = now.Add(leafLasts - leafRenew + time.Hour)
	if bytes.Equal(first.Raw, leafOf(t, b).Raw) {
		t.Error("the leaf is not renewed before it runs out")
	}
	// Another name: another authority.
	at.names = []string{"barn", "localhost"}
	c, err := openAuthority(dir, clock, here)
	if err != nil || bytes.Equal(c.cert.Raw, a.cert.Raw) {
		t.Errorf("after the computer was renamed: %v", err)
	}
	for _, broken := range []string{"", "not PEM", "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n"} {
		if err := os.WriteFile(file, []byte(broken), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := openAuthority(dir, clock, here); err == nil {
			t.Errorf("%q is taken for an authority", broken)
		}
	}
}

func leafOf(t *testing.T, a *authority) *x509.Certificate {
	t.Helper()
	c, err := a.certificate(&tls.ClientHelloInfo{})
	if err != nil {
		t.Fatal(err)
	}
	return c.Leaf
}

// signed is what somebody who stole the key could sign.
func signed(t *testing.T, a *authority, name string, now time.Time) *x509.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(7), NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour), KeyUsage: x509.KeyUsageDigitalSignature,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	if ip := net.ParseIP(name); ip != nil {
		c.IPAddresses = []net.IP{ip}
	} else {
		c.DNSNames = []string{name}
	}
	der, err := x509.CreateCertificate(rand.Reader, c, a.cert, key.Public(), a.key)
	if err != nil {
		t.Fatal(err)
	}
	out, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return out
}
