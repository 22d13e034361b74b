package web

import (
	"crypto/subtle"
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// guard lets in who has the cookie, from the own pages, by the own address.
type guard struct {
	cross  *http.CrossOriginProtection
	secret string // value of the cookie
	mu     sync.Mutex
	tokens map[string]ticket
}

// ticket is what one first address leads to.
type ticket struct {
	until time.Time
	to    string // page
}

// tokenLife is long enough for a browser to start on an old laptop.
const tokenLife = 10 * time.Minute

func newGuard() *guard {
	return &guard{cross: http.NewCrossOriginProtection(), secret: randomText(), tokens: map[string]ticket{}}
}

// Ticket gives a path that lets one browser in, once; to is the page it
// leads to, "/" for the usual one.
func (d *Desk) Ticket(to string) string {
	g := d.guard
	g.mu.Lock()
	defer g.mu.Unlock()
	now := d.o.Now()
	for k, t := range g.tokens {
		if now.After(t.until) {
			delete(g.tokens, k)
		}
	}
	token := randomText()
	g.tokens[token] = ticket{now.Add(tokenLife), to}
	return "/enter?token=" + token
}

// take uses a token up.
func (g *guard) take(token string, now time.Time) (to string, ok bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	t, ok := g.tokens[token]
	delete(g.tokens, token)
	return t.to, ok && now.Before(t.until)
}

// cookieName holds the port, since cookies are shared by all ports of a host.
func cookieName(host string) string {
	_, port, err := net.SplitHostPort(host)
	if err != nil {
		port = "80"
	}
	return "soakline-" + port
}

// ownHost says whether a request came by the address that we listen on: a
// loopback address, or localhost, and the port of the connection. Any other
// name was made to point here by somebody else.
func ownHost(r *http.Request) bool {
	host, port, err := net.SplitHostPort(r.Host)
	if err != nil {
		host, port = r.Host, "80"
	}
	if local, ok := r.Context().Value(http.LocalAddrContextKey).(net.Addr); ok {
		if _, p, err := net.SplitHostPort(local.String()); err == nil && p != port {
			return false
		}
	}
	if strings.EqualFold(host, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && a.IsLoopback()
}

// policy is what a page of ours may load and do: nothing but its own.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

func (g *guard) wrap(d *Desk, next http.Handler) http.Handler {
	inner := g.cross.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.URL.Path == "/enter" && r.Method == http.MethodGet:
			g.enter(d, w, r)
			return
		case strings.HasPrefix(r.URL.Path, "/static/"): // holds nothing of anybody
			next.ServeHTTP(w, r)
			return
		}
		c, err := r.Cookie(cookieName(r.Host))
		if err != nil || subtle.ConstantTimeCompare([]byte(c.Value), []byte(g.secret)) != 1 {
			d.shut(w, http.StatusForbidden, "web.shut.no-cookie")
			return
		}
		next.ServeHTTP(w, r)
	}))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !ownHost(r) {
			d.shut(w, http.StatusMisdirectedRequest, "web.shut.host")
			return
		}
		d.busy.Add(1)
		d.touch()
		defer func() {
			d.touch()
			d.busy.Add(-1)
		}()
		inner.ServeHTTP(w, r)
	})
}

// enter swaps the token of the first address for the cookie.
func (g *guard) enter(d *Desk, w http.ResponseWriter, r *http.Request) {
	to, ok := g.take(r.URL.Query().Get("token"), d.o.Now())
	if !ok {
		if c, err := r.Cookie(cookieName(r.Host)); err == nil && subtle.ConstantTimeCompare([]byte(c.Value), []byte(g.secret)) == 1 {
			http.Redirect(w, r, "/", http.StatusSeeOther) // the first address opened again
			return
		}
		d.shut(w, http.StatusForbidden, "web.shut.token")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: cookieName(r.Host), Value: g.secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	if !strings.HasPrefix(to, "/") {
		to = "/"
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// shut says why a request is not answered, on a page that holds nothing.
func (d *Desk) shut(w http.ResponseWriter, status int, slug string) {
	d.bare(w, status, slug)
}
