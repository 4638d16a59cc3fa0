package door

import (
	"net"
	"net/http"
	"net/netip"
	"time"

	"github.com/go-chi/httprate"
	"github.com/realclientip/realclientip-go"
)

// How often may be tried: OWASP asks for a limit and names none; ten tries in
// five minutes leave a person room and a guesser some three thousand a day.
const (
	tryWindow  = 5 * time.Minute
	triesOfOne = 10
	triesOfAll = 100
)

func limiters() (one, all *httprate.RateLimiter) {
	quiet := httprate.WithResponseHeaders(httprate.ResponseHeaders{RetryAfter: "Retry-After"})
	return httprate.NewRateLimiter(triesOfOne, tryWindow, quiet), httprate.NewRateLimiter(triesOfAll, tryWindow, quiet)
}

// tooOften counts a try and reports whether it is one too many.
func (d *Door) tooOften(w http.ResponseWriter, r *http.Request) bool {
	return d.one.OnLimit(w, r, network(d.from(r))) || d.all.OnLimit(w, r, "")
}

// from is the address that a request comes from. What a header says counts only
// where a proxy of the settings said it.
func (d *Door) from(r *http.Request) string {
	direct := realclientip.RemoteAddrStrategy{}.ClientIP(nil, r.RemoteAddr)
	a, err := netip.ParseAddr(direct)
	if err != nil || !d.isProxy(a) {
		return direct
	}
	var nets []net.IPNet
	for _, p := range d.proxies {
		nets = append(nets, net.IPNet{IP: p.Masked().Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	strategy, err := realclientip.NewRightmostTrustedRangeStrategy("X-Forwarded-For", nets)
	if err != nil {
		return direct
	}
	if said := strategy.ClientIP(r.Header, r.RemoteAddr); said != "" {
		return said
	}
	return direct
}

func (d *Door) isProxy(a netip.Addr) bool {
	for _, p := range d.proxies {
		if p.Contains(a.Unmap()) {
			return true
		}
	}
	return false
}

// network is what stands for an address when tries are counted: itself, and of
// IPv6 its /64, all of which one machine can have.
func network(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil || a.Unmap().Is4() {
		return address
	}
	p, err := a.Prefix(64)
	if err != nil {
		return address
	}
	return p.String()
}
