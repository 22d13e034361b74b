# Everything a person needs is `make demo` and `make test`; the rest is for
# those who change or release the program.
GO ?= go
export CGO_ENABLED = 0
VERSION := $(shell sed -n 's/^const Version = "\(.*\)"/\1/p' cmd/soakline/version.go)
PLATFORMS := linux/amd64 linux/arm64 darwin/amd64 darwin/arm64 windows/amd64 windows/arm64

.PHONY: build demo test race lint vulncheck release bench fuzz studies clean

build:
	$(GO) build -trimpath -ldflags='-s -w' -o soakline ./cmd/soakline

# The invented season, in the folder demo/, opened in the browser.
demo: build
	./soakline demo --out demo --open

# On Debian as root this first installs what the suites need (a browser, R);
# elsewhere it runs what needs only Go and names what it did not run.
test:
	sh tools/test.sh

lint:
	sh tools/lint.sh

race:
	CGO_ENABLED=1 $(GO) test -race -timeout 20m $$(sh tools/race-rooms.sh)

# Needs a machine that reaches the vulnerability database.
vulncheck:
	$(GO) tool -modfile=go.tool.mod govulncheck ./...

release:
	sh tools/release.sh "$(VERSION)" $(PLATFORMS)

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# Long fuzzing of every reader, a minute each.
fuzz:
	sh tools/fuzz.sh 60s

# Do the methods hold the rates they state? Draws from known truths; goes on where
# it was broken off (AGAIN=1 begins anew, ONLY=tests,bands takes some of them) and
# writes docs/methods/studies.md. About half an hour of one core.
studies:
	$(GO) run ./tools/studies $(if $(AGAIN),-again) $(if $(ONLY),-only $(ONLY))

clean:
	rm -rf soakline dist demo
