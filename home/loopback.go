package home

import (
	"net/netip"
	"strings"
)

// Loopback reports whether only this machine can reach the address host:port, or
// host. A name below localhost is this machine's, too (RFC 6761, section 6.3).
func Loopback(address string) bool {
	if a, err := netip.ParseAddr(strings.Trim(address, "[]")); err == nil {
		return a.IsLoopback()
	}
	if a, err := netip.ParseAddrPort(address); err == nil {
		return a.Addr().IsLoopback()
	}
	host := address
	if i := strings.LastIndexByte(address, ':'); i >= 0 {
		host = address[:i]
	}
	return host == "localhost" || strings.HasSuffix(host, ".localhost")
}
