package demo

// Programme is the name in every file; none of its kind exists.
const Programme = "Larkwater (invented)"

// The habitats, as the true records name them.
const (
	seagrass = "seagrass"
	sand     = "sand"
	reef     = "reef"
)

var habitats = []string{seagrass, sand, reef}

var seasons = []string{"2025", "2026"}

// crew is one invented team and the zone of its clock. Both seasons lie in
// July, so one offset serves; a test holds it against the zone's rules.
type crew struct {
	name      string
	zone      string
	offsetS   int
	sites     []*site
	observers []string
	format    string // of an identifier, with the row's number
	controls  []int  // visits at whose first site a control row is set
	practice  int    // practice rows, on the first day
	unread    bool   // the sheet has a place for baits not read
	keep      func(*row)
}

// site is one invented place, its position in the sea near a real shore.
type site struct {
	name            string
	latDeg, lonDeg  float64
	bearingDeg      float64 // along the shore: where the habitats lie one beside the other
	habitats        []string
	summerC         float64 // mean water temperature
	effect          float64
	effectInHabitat map[string]float64
}

// crews returns the programme anew, so that two seasons share nothing.
//
// Each position is the point 1.5 km from the embedded shoreline (Natural Earth
// 1:10 million) on a meridian or parallel through the coast between Algarve and
// the Alboran Sea; a test checks that every row lies at sea, by half a km or more.
func crews() []*crew {
	all, two := habitats, func(a, b string) []string { return []string{a, b} }
	return []*crew{
		{name: "Brisa", zone: "Europe/Madrid", offsetS: 7200, format: "BR-%02d", controls: []int{0, 2}, practice: 1, unread: true,
			observers: []string{"Nerea Inventada", "Blas Ficticio"}, keep: keepBrisa,
			sites: []*site{
				{name: "Marnoca", latDeg: 36.7103, lonDeg: -4.12, bearingDeg: 90, habitats: all, summerC: 20.6},
				{name: "Quelvira", latDeg: 36.7139, lonDeg: -3.75, bearingDeg: 90, habitats: all, summerC: 21.2},
				{name: "Zarpel", latDeg: 36.7126, lonDeg: -3.35, bearingDeg: 90, habitats: two(sand, reef), summerC: 21.9},
			}},
		{name: "Marea", zone: "Europe/Lisbon", offsetS: 3600, format: "M-%02d", controls: []int{1}, practice: 1,
			observers: []string{"Rita Fictícia", "Ivo Inventado"}, keep: keepMarea,
			sites: []*site{
				{name: "Ilhota Breda", latDeg: 37.0702, lonDeg: -8.68, bearingDeg: 90, habitats: all, summerC: 17.6},
				{name: "Sarulha", latDeg: 37.0716, lonDeg: -8.45, bearingDeg: 90, habitats: all, summerC: 18.3},
				{name: "Pontal Oriz", latDeg: 37.0657, lonDeg: -8.28, bearingDeg: 90, habitats: all, summerC: 18.9},
			}},
		{name: "Espuma", zone: "Europe/Madrid", offsetS: 7200, format: "E%02d", practice: 1,
			observers: []string{"Lola Inventada", "Teo Imaginario"}, keep: keepEspuma,
			sites: []*site{
				{name: "Tolvaz", latDeg: 36.2498, lonDeg: -6.1008, bearingDeg: 320, habitats: all, summerC: 20.1},
				{name: "Cala Umbrera", latDeg: 36.6999, lonDeg: -6.4399, bearingDeg: 320, habitats: all, summerC: 20.9},
				{name: "Varadero Lis", latDeg: 37.0130, lonDeg: -6.62, bearingDeg: 300, habitats: two(seagrass, sand), summerC: 21.5},
			}},
		{name: "Salina", zone: "Europe/Lisbon", offsetS: 3600, format: "S%02d", controls: []int{0}, unread: true,
			observers: []string{"Gil Imaginário", "Alba Ficticia"}, keep: keepSalina,
			sites: []*site{
				{name: "Foz Tirela", latDeg: 36.9558, lonDeg: -7.88, bearingDeg: 270, habitats: all, summerC: 20.4},
				{name: "Ancoral", latDeg: 37.0973, lonDeg: -7.62, bearingDeg: 60, habitats: two(seagrass, sand), summerC: 21.4},
				{name: "Barra Meluna", latDeg: 37.1648, lonDeg: -7.48, bearingDeg: 80, habitats: two(seagrass, sand), summerC: 22.0},
			}},
	}
}
