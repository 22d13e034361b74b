package intake

// Most cells of a large file are already canonical. These looks at bytes spare
// them the general readers; what they do not recognise goes there.

// isDigits says whether s is 1 to 9 digits without a leading nought.
func isDigits(s string) bool {
	if s == "" || len(s) > 9 || s[0] == '0' && len(s) > 1 {
		return false
	}
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// isDecimal says whether s is digits with at most one decimal point inside and
// a minus sign before.
func isDecimal(s string) bool {
	if s != "" && s[0] == '-' {
		s = s[1:]
	}
	point := -1
	for i := range len(s) {
		switch c := s[i]; {
		case c == '.' && point < 0:
			point = i
		case c < '0' || c > '9':
			return false
		}
	}
	return s != "" && len(s) < 20 && point != 0 && point != len(s)-1
}

// isDegrees says whether s is a decimal number of at most three digits before
// the point.
func isDegrees(s string) bool {
	if !isDecimal(s) {
		return false
	}
	n := 0
	for i := range len(s) {
		if s[i] == '.' {
			break
		}
		if s[i] != '-' {
			n++
		}
	}
	return n <= 3
}

// isInstant says whether s is 2026-07-01T09:00[:00] with Z or an offset.
func isInstant(s string) bool {
	if len(s) < 17 || s[4] != '-' || s[7] != '-' || s[10] != 'T' || s[13] != ':' {
		return false
	}
	y, ok1 := number(s[:4])
	mo, ok2 := number(s[5:7])
	d, ok3 := number(s[8:10])
	h, ok4 := number(s[11:13])
	mi, ok5 := number(s[14:16])
	// The 29th to 31st go to the general reader, which knows the months.
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 || y < 1800 || y > 2400 || mo < 1 || mo > 12 || d < 1 || d > 28 || h > 23 || mi > 59 {
		return false
	}
	s = s[16:]
	if len(s) >= 3 && s[0] == ':' {
		if sec, ok := number(s[1:3]); !ok || sec > 59 {
			return false
		}
		s = s[3:]
	}
	if s == "Z" {
		return true
	}
	if len(s) != 6 || s[0] != '+' && s[0] != '-' || s[3] != ':' {
		return false
	}
	oh, ok6 := number(s[1:3])
	om, ok7 := number(s[4:6])
	return ok6 && ok7 && oh <= 23 && om <= 59
}

func number(s string) (n int, ok bool) {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}
