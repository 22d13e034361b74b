package entry

import (
	"strconv"
	"strings"

	"soakline/internal/sheet"
)

// Texts is a record as it would be typed: what Read gives back for it says the
// same. Values are canonical; a time is shown in four figures where that is
// enough.
func Texts(values map[string]string, s Setting) map[string]string {
	out := map[string]string{}
	for _, c := range Columns(len(s.Protocol.Checks), s.Stakes) {
		col, _, known := sheet.Find(sheet.Wide, c)
		switch {
		case !known, c == "latitude", c == "longitude", c == "last_latitude", c == "last_longitude":
		case col.Kind == sheet.Instant || col.Kind == sheet.Depth:
			out[c] = clockText(values[c])
		case col.Kind == sheet.Fates:
			boxes(out, c, values[c])
		case col.Kind == sheet.Flag:
			out[c] = map[string]string{"yes": "1", "no": "2"}[values[c]]
		case strings.HasPrefix(c, "why_no_check"):
			out[c] = numberOf(WhyNot, values[c])
		case c == "first_stake_side":
			out[c] = numberOf(Sides, values[c])
		default:
			out[c] = values[c]
		}
	}
	for field, prefix := range map[string]string{Position: "", Last: "last_"} {
		if lat, lon := values[prefix+"latitude"], values[prefix+"longitude"]; lat != "" && lon != "" {
			out[field] = lat + ", " + lon
		}
	}
	shorten(out, s)
	return out
}

// numberOf is the figure that stands for a word.
func numberOf(list []string, word string) string {
	for i, w := range list {
		if w == word {
			return strconv.Itoa(i + 1)
		}
	}
	return ""
}

// clockText is a canonical time as the local clock read it.
func clockText(text string) string {
	m, f := sheet.ParseMoment("", text)
	if f != nil || !m.Known() {
		return text
	}
	return m.Local().Format(local)
}

func boxes(out map[string]string, column, text string) {
	k, err := strconv.Atoi(strings.TrimPrefix(column, "fates_at_check"))
	if err != nil {
		return
	}
	fates, f := sheet.ParseFates(column, text, k)
	if f != nil {
		return
	}
	for _, x := range fates {
		for _, key := range Keys {
			if key.Fate == x.Fate {
				out[FateAt(k, x.Stake)] = key.Figure
			}
		}
	}
}

// shorten turns full times into the day and four figures each, wherever Read
// would put them on the same day again.
func shorten(out map[string]string, s Setting) {
	if t := out["deployed_at"]; len(t) == len(local) {
		out[Date] = strings.ReplaceAll(t[:10], "-", "")
		out["deployed_at"] = t[11:13] + t[14:]
	}
	for name, t := range out {
		if len(t) != len(local) || name == "deployed_at" {
			continue
		}
		if _, _, isTime := clock(t); !isTime {
			continue
		}
		short := t[11:13] + t[14:]
		trial := map[string]string{}
		for k, v := range out {
			trial[k] = v
		}
		trial[name] = short
		if got := Read(trial, Setting{Protocol: s.Protocol}); got.Values[name] == t {
			out[name] = short
		}
	}
}
