package publish

import (
	"fmt"
	"strconv"

	"soakline/internal/assay"
	"soakline/internal/rates"
	"soakline/internal/sheet"
)

// measuring writes lines of the measurement table.
type measuring struct {
	r     *release
	l     *line
	write func([]string) error
	n     int
	event string
	when  string
	by    string
	k     int // within the event
	err   error
}

func (m *measuring) at(event, when, by string) { m.event, m.when, m.by, m.k = event, when, by, 0 }

// put writes one measurement; an empty value is none.
func (m *measuring) put(q quantity, value, remarks string) {
	if value == "" || m.err != nil {
		return
	}
	m.k++
	m.n++
	l := m.l
	l.clear()
	l.set("eventID", m.event)
	l.set("measurementID", m.event+":m:"+strconv.Itoa(m.k))
	l.set("measurementType", q.typ)
	l.set("measurementTypeID", q.iri())
	l.set("measurementValue", value)
	l.set("measurementUnit", q.unit.text)
	l.set("measurementUnitID", q.unit.iri())
	l.set("measurementDeterminedDate", m.when)
	l.set("measurementDeterminedBy", m.by)
	l.set("measurementMethod", q.method)
	l.set("measurementRemarks", remarks)
	m.err = m.write(l.cells)
}

func (m *measuring) number(q quantity, x assay.Maybe[float64]) { m.put(q, maybeNumber(x), "") }

func (m *measuring) count(q quantity, x assay.Maybe[int], remarks string) {
	if n, ok := x.Get(); ok {
		m.put(q, strconv.Itoa(n), remarks)
	}
}

// writeMeasurements writes what was measured of each row and at each check. A
// count that nobody read has no line: missing is never zero.
func (r *release) writeMeasurements(write func([]string) error) (n int, err error) {
	m := &measuring{r: r, l: newLine(measurementTable), write: write}
	err = r.each(func(d row) error {
		m.row(d)
		shares := r.shares(d)
		for _, c := range d.Checks {
			m.check(d, c, shares[c.Number])
		}
		return m.err
	})
	return m.n, err
}

func (m *measuring) row(d row) {
	m.at(d.Event, stamp(d.SetOut.Local()), d.Observers)
	if d.Baits > 0 {
		m.put(qBaits, strconv.Itoa(d.Baits), "")
	}
	m.count(qRetrieved, d.StakesRetrieved, "")
	m.put(qBaitKind, d.BaitKind, "")
	m.put(qBaitForm, d.BaitForm, "")
	m.number(qBaitSize, d.BaitSizeMM)
	m.put(qBaitBatch, d.BaitBatch, "")
	m.number(qSpacing, d.SpacingM)
	m.number(qBearing, d.RowBearingDeg)
	if x := lengthOf(d); x > 0 {
		m.put(qLength, sheet.FormatNumber(x), "")
	}
	control := string(d.Control)
	if control == "" {
		control = string(assay.NoControl)
	}
	m.put(qControl, control, "")
	if near, ok := d.NearOtherHabitat.Get(); ok {
		m.put(qOtherNear, yesNo(near), "")
	}
	m.number(qTemperature, d.TemperatureC)
	m.number(qSalinity, d.Salinity)
	m.number(qVisibility, d.VisibilityM)
	for _, name := range d.CovariateNames() {
		q := qFurther
		q.typ += name
		m.put(q, d.Covariates[name], "")
	}
}

func (m *measuring) check(d row, c assay.Check, share string) {
	when := ""
	if c.At.Known() {
		when = stamp(c.At.Local())
	}
	m.at(checkID(d.Event, c.Number), when, c.Reader)
	if !c.Read() {
		m.put(qMade, "no", c.WhyNot)
		return
	}
	m.put(qMade, "yes", "")
	if h, ok := d.SoakH(c); ok {
		m.put(qSoak, number(h, 4), "")
	}
	m.count(qConsumed, c.Consumed, "")
	if c.LostDerived {
		if c.Lost.Or(0) > 0 {
			m.count(qLost, c.Lost, "not counted: upper bound from the stakes retrieved")
		}
	} else {
		m.count(qLost, c.Lost, "")
	}
	m.count(qUnread, c.Unread, "")
	m.put(qShare, share, "")
	for _, f := range d.Stakes {
		if f.Check == c.Number {
			value := string(f.Fate)
			if f.How != "" {
				value += " (" + string(f.How) + ")"
			}
			m.put(qFate, value, fmt.Sprintf("stake %d", f.Stake))
		}
	}
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// shares are the proportions consumed by each check read, by the product limit
// over the intervals between checks; a proportion that cannot be had is absent.
func (r *release) shares(d row) map[int]string {
	out := map[int]string{}
	left := 1.0
	for _, iv := range r.intervals(d) {
		if iv.AtRisk <= 0 || len(iv.Late) > 0 {
			return out
		}
		left *= 1 - float64(iv.Consumed)/float64(iv.AtRisk)
		out[iv.Check] = number(1-left, 6)
	}
	return out
}

// intervals are the row's intervals under its own protocol.
func (r *release) intervals(d row) []rates.Interval {
	name := d.Protocol
	if name == "" {
		name = r.in.Usual
	}
	var means []assay.How
	if p, ok := r.in.Protocols[name]; ok {
		means = p.CountsAsConsumed
	}
	ivs, _ := rates.Intervals(d.Deployment, means...)
	return ivs
}
