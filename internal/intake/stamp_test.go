package intake

import (
	"fmt"
	"testing"
)

// Times as people write them; the readings on the right are by hand.
func TestStamps(t *testing.T) {
	for _, c := range []struct{ text, order, want string }{
		{"2026-07-01 09:05", "", "2026-7-1 32700"},
		{"2026/7/1 9:05", "", "2026-7-1 32700"},
		{"01/07/2026 09:05", "day-first", "2026-7-1 32700"},
		{"07/01/2026 9:05 AM", "month-first", "2026-7-1 32700"},
		{"1.7.26 9.05", "day-first", "2026-7-1 32700"},
		{"1-jul-2026 09:05:30", "", "2026-7-1 32730"},
		{"1 de julio de 2026 09:05", "", "2026-7-1 32700"},
		{"3 ene 2026", "", "2026-1-3"},
		{"July 1, 2026 9:05pm", "", "2026-7-1 75900"},
		{"1 Sept 2026", "", "2026-9-1"},
		{"09h05", "", "32700"},
		{"9:05 p.m.", "", "75900"},
		{"12:00 AM", "", "0"},
		{"12:30 pm", "", "45000"},
		{"0905", "", "32700"},
		{"9 am", "", "32400"},
		{"25:30", "", "91800"},
		{"2026-07-01T09:05+02:00", "", "2026-7-1 32700 7200"},
		{"01/07/2026 09:05 -0300", "day-first", "2026-7-1 32700 -10800"},
		{"46204.375", "1900", "2026-7-1 32400"},
		{"0.5", "1900", "43200"},
		{"31/02/2026", "day-first", "no"}, {"13/13/2026", "", "no"}, {"9:65", "", "no"}, {"13 pm", "", "no"}, {"soon", "", "no"}, {"", "", "no"},
		{"12", "", "no"}, {"25", "1900", "no"}, {"1/2", "", "no"},
	} {
		serials := ""
		if c.order == "1900" {
			serials, c.order = c.order, ""
		}
		st, ok := readStamp(c.text, Text, c.order, serials)
		got := ""
		if st.hasDate {
			got = fmt.Sprintf("%d-%d-%d", st.y, st.m, st.d)
		}
		if st.hasClock {
			if got != "" {
				got += " "
			}
			got += fmt.Sprint(st.sec)
		}
		if st.hasZone {
			off := st.offset
			if !st.full.IsZero() {
				_, off = st.full.Zone()
			}
			got += fmt.Sprint(" ", off)
		}
		if !ok {
			got = "no"
		}
		if got != c.want {
			t.Errorf("%q: %s, want %s", c.text, got, c.want)
		}
	}
}

// The quick looks never take what the general readers would refuse.
func TestQuickLooks(t *testing.T) {
	for text, want := range map[string]bool{"2026-07-01T09:00Z": true, "2026-07-01T09:00:30-03:00": true, "2026-02-30T09:00Z": false, "2026-07-01T24:00Z": false, "2026-07-01T09:00": false,
		"2026-07-01 09:00Z": false, "2026-07-01T09:00+0200": false, "0026-07-01T09:00Z": false, "2026-13-01T09:00Z": false} {
		if isInstant(text) != want {
			t.Errorf("isInstant(%q) = %v", text, !want)
		}
	}
	for text, want := range map[string]bool{"36.95": true, "-8.2": true, "8": true, "1234.5": false, "8.": false, ".5": false, "-": false, "": false, "1e3": false, "3-4": false} {
		if isDegrees(text) != want {
			t.Errorf("isDegrees(%q) = %v", text, !want)
		}
	}
}

func TestHeadings(t *testing.T) {
	for _, c := range []struct{ over, text, want string }{
		{"", "decimalLatitude", "latitude 0 0"}, {"", "Fecha de colocación", "deployed_at:date 0 0"}, {"", "24 h eaten", "consumed_by_check{K} 0 24"}, {"", "gone_T1", "consumed_by_check{K} 1 0"},
		{"", "consumed_by_check2", "consumed_by_check{K} 2 0"}, {"", "Quedan 1ª revisión", "consumed_by_check{K}:left 1 0"}, {"", "First check: stakes lost", "lost_by_check{K} 1 0"},
		{"", "2nd visit time", "check{K}_at:time 2 0"}, {"", "control", "control 0 0"}, {"", "No. of baits", "baits_deployed 0 0"}, {"24 h check", "lost", "lost_by_check{K} 0 24"},
		{"Revisión 2", "Hora", "check{K}_at:time 2 0"}, {"Position", "Lat", "latitude 0 0"}, {"", "individualCount", "count 0 0"}, {"", "check 1", " 1 0"}, {"", "Water temp (°C)", "temperature_c 0 0"},
		{"", "wind force", "unknown"}, {"", "GPS error (m)", "coordinate_uncertainty_m 0 0"}, {"", "visita", "check 0 0"},
	} {
		s := meaningOf(Heading{Over: c.over, Text: c.text})
		got := fmt.Sprintf("%s %d %g", s.target, s.check, s.soakH)
		if !s.known {
			got = "unknown"
		}
		if got != c.want {
			t.Errorf("%q %q: %s, want %s", c.over, c.text, got, c.want)
		}
	}
}
