#!/bin/sh
# Makes lookup.csv: what @photostructure/tz-lookup 11.7.0 itself answers at 400
# seeded positions and some edges. Needs node and npm. Usage: sh make.sh
set -e
tmp=$(mktemp -d); here=$(pwd)
(cd "$tmp" && npm pack @photostructure/tz-lookup@11.7.0 >/dev/null && tar xzf *.tgz)
cd "$tmp" && node -e '
const f=require("./package/tz.js");let s=12345;function r(){s=(s*1103515245+12345)%2147483648;return s/2147483648}
let o=[];for(let i=0;i<400;i++){let la=Math.round((Math.asin(2*r()-1)*180/Math.PI)*1e4)/1e4,lo=Math.round((r()*360-180)*1e4)/1e4;o.push(la+","+lo+","+f(la,lo))}
for(const [a,b] of [[36.9512,-8.2034],[0,0],[90,0],[-90,0],[89.99,180],[-45,180],[-45,-180],[52.5,180],[41.9,12.5],[-33.9,151.2],[21.3,-157.8]])o.push(a+","+b+","+f(a,b));
console.log("lat,lon,zone\n"+o.join("\n"))' >"$here/lookup.csv"
rm -r "$tmp"
