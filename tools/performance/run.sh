#!/bin/sh
# Times soakline beside R's mixed-model packages on the same invented seasons,
# in one run: the whole program against the fit alone. Results stand in
# docs/performance.md. Needs R with glmmTMB and lme4.
set -eu
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
go build -trimpath -ldflags='-s -w' -o "$dir/soakline" ./cmd/soakline
go run ./tools/performance "$dir" 400 2000 10000 100000
for n in 400 2000 10000 100000; do
	echo "== $n deployments"
	for i in 1 2 3; do
		/usr/bin/time -f "soakline compare, whole program: %e s, %M kB" "$dir/soakline" compare "$dir/season-$n.csv" --bands checks --json >"$dir/out.json"
	done
	grep -E '"loglik"' "$dir/out.json"
	case $n in
	400) Rscript tools/performance/fit.R "$dir/frame-$n.csv" glmer ;;
	2000) Rscript tools/performance/fit.R "$dir/frame-$n.csv" ;;
	esac
done
echo "== 999 simulated seasons of 400 deployments"
/usr/bin/time -f "soakline compare --bootstrap 999: %e s, %M kB" "$dir/soakline" compare "$dir/season-400.csv" --bootstrap 999 --json >"$dir/out.json"
