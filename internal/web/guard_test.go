package web

import (
	"net"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"soakline/internal/words"
)

// Nobody comes in without the cookie, and the cookie is had once by a token.
func TestStrangersAreNotLetIn(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t)
	for _, path := range []string{"/", "/start", "/rows", "/answer", "/logbook/copy", "/answer/results/xlsx", "/row?baits=25", "/alive", "/enter", "/enter?token=guess"} {
		g := x.get(t, path)
		if g.status != http.StatusForbidden || strings.Contains(g.body, "Larkwater") {
			t.Errorf("%s without a cookie gave %d:\n%.300s", path, g.status, g.body)
		}
	}
	first := x.Ticket("/")
	if g := x.get(t, first); g.status != http.StatusOK || g.at.Path != "/rows" {
		t.Fatalf("the first address led to %s, %d", g.at, g.status)
	}
	u, _ := url.Parse(x.srv.URL)
	cookies := x.client.Jar.Cookies(u)
	if len(cookies) != 1 || !strings.HasSuffix(cookies[0].Name, "-"+u.Port()) {
		t.Errorf("cookies %v, want one that names the port", cookies)
	}
	// The same address in another browser: used up.
	other := &http.Client{Transport: x.client.Transport}
	resp, err := other.Get(x.srv.URL + first)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusForbidden {
		t.Errorf("a used token let somebody in: %s", resp.Status)
	}
}

func TestCookieIsForThisSiteAndNoScript(t *testing.T) {
	x := newDesk(t, words.English)
	c := &http.Client{Transport: x.client.Transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	resp, err := c.Get(x.srv.URL + x.Ticket("/"))
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	got := resp.Header.Get("Set-Cookie")
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(got, want) {
			t.Errorf("Set-Cookie %q lacks %s", got, want)
		}
	}
}

// A name that was made to point to this machine, another port's name, and a
// page of another site are refused even with the cookie.
func TestOnlyTheOwnAddressAndOrigin(t *testing.T) {
	x := newDesk(t, words.English).withDemo(t).enter(t)
	_, port, _ := net.SplitHostPort(x.srv.Listener.Addr().String())
	for host, want := range map[string]int{
		"127.0.0.1:" + port:       http.StatusOK,
		"evil.example:" + port:    http.StatusMisdirectedRequest,
		"127.0.0.1:1":             http.StatusMisdirectedRequest,
		"127.0.0.1.evil.example":  http.StatusMisdirectedRequest,
		"10.0.0.1:" + port:        http.StatusMisdirectedRequest,
		"":                        http.StatusOK, // the client's own
		"localhost.evil.example.": http.StatusMisdirectedRequest,
	} {
		req, _ := http.NewRequest(http.MethodGet, x.srv.URL+"/rows", nil)
		req.Host = host
		req.AddCookie(&http.Cookie{Name: cookieName("127.0.0.1:" + port), Value: x.guard.secret})
		if g := x.do(t, req); g.status != want {
			t.Errorf("Host %q gave %d, want %d", host, g.status, want)
		}
	}
	for name, h := range map[string]http.Header{
		"cross-site": {"Sec-Fetch-Site": {"cross-site"}},
		"origin":     {"Origin": {"http://evil.example"}},
		"other port": {"Origin": {"http://127.0.0.1:1"}},
	} {
		req, _ := http.NewRequest(http.MethodPost, x.srv.URL+"/close", nil)
		req.Header = h
		if g := x.do(t, req); g.status != http.StatusForbidden {
			t.Errorf("%s: POST gave %d, want 403", name, g.status)
		}
	}
	select {
	case <-x.Done():
		t.Error("another site closed the desk")
	default:
	}
}

func TestPolicyOnEveryAnswer(t *testing.T) {
	x := newDesk(t, words.English)
	for _, path := range []string{"/", x.Ticket("/"), "/start", "/nowhere"} {
		g := x.get(t, path)
		p := g.header.Get("Content-Security-Policy")
		if !strings.Contains(p, "default-src 'none'") || strings.Contains(p, "unsafe") {
			t.Errorf("%s: policy %q", path, p)
		}
		if g.header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: no nosniff", path)
		}
	}
}
