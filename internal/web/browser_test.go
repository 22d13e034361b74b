package web

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"soakline/internal/outside"
)

// tab is a browser's page on a desk.
type tab struct {
	t   testing.TB
	ctx context.Context
	x   *testDesk
}

// browse opens a browser of a width on a desk.
func browse(t testing.TB, x *testDesk, width int) *tab {
	t.Helper()
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.NoSandbox, chromedp.ExecPath(outside.Browser(t)))
	ctx, stop := context.WithTimeout(context.Background(), 5*time.Minute)
	a, stopAlloc := chromedp.NewExecAllocator(ctx, opts...)
	c, end := chromedp.NewContext(a)
	t.Cleanup(func() {
		_ = chromedp.Cancel(c)
		end()
		stopAlloc()
		stop()
	})
	b := &tab{t, c, x}
	b.do(chromedp.EmulateViewport(int64(width), 900))
	return b
}

func (b *tab) do(a ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, a...); err != nil {
		b.t.Fatal(err)
	}
}

func (b *tab) open(path string) { b.t.Helper(); b.do(chromedp.Navigate(b.x.srv.URL + path)) }

func evaluate[T any](b *tab, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("%s: %v", js, err)
	}
	return v
}

// shot keeps a picture of the whole page where SOAKLINE_SHOTS names a folder.
func (b *tab) shot(name string) {
	b.t.Helper()
	dir := os.Getenv("SOAKLINE_SHOTS")
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}
