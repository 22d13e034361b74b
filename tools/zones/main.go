// Command zones makes the coarse map of time zones that package place embeds.
// It is run by hand, and its output is committed:
//
//	npm pack @photostructure/tz-lookup@11.7.0
//	go run ./tools/zones photostructure-tz-lookup-11.7.0.tgz internal/place/data/zones.txt
//
// The package (CC0 1.0) holds one long string, a tree of squares, and the
// list of zone names; both are made from the boundaries of the time zone
// boundary builder, which come from OpenStreetMap. Only these data are taken:
// line 1 of the output is the string, each further line a zone name, in order.
package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"strings"
)

const packageSum = "a6b0b3e9196be577694deca9424617421a967ff4de6405c5d61508a29293052b"

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: go run ./tools/zones photostructure-tz-lookup-11.7.0.tgz FILE")
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "zones:", err)
		os.Exit(1)
	}
}

func run(tgz, out string) error {
	raw, err := os.ReadFile(tgz)
	if err != nil {
		return err
	}
	if sum := fmt.Sprintf("%x", sha256.Sum256(raw)); sum != packageSum {
		return fmt.Errorf("%s has SHA-256 %s, not that of the package", tgz, sum)
	}
	z, err := gzip.NewReader(bytes.NewReader(raw))
	if err != nil {
		return err
	}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if err != nil {
			return fmt.Errorf("package/tz.js: %w", err)
		}
		if h.Name != "package/tz.js" {
			continue
		}
		text, err := io.ReadAll(r)
		if err != nil {
			return err
		}
		return write(string(text), out)
	}
}

func write(script, out string) error {
	tree := regexp.MustCompile(`X=\s*"([^"\\]+)"`).FindStringSubmatch(script)
	list := regexp.MustCompile(`\["(Africa/[^\]]*)"\]`).FindStringSubmatch(script)
	if tree == nil || list == nil {
		return errors.New("the data are not where they were in version 11.7.0")
	}
	names := strings.Split(list[1], `","`)
	text := tree[1] + "\n" + strings.Join(names, "\n") + "\n"
	fmt.Printf("%s: %d characters, %d zones, SHA-256 %x\n", out, len(tree[1]), len(names), sha256.Sum256([]byte(text)))
	return os.WriteFile(out, []byte(text), 0o644)
}
