package publish

import "strings"

// Prefixes of the terms in the column lists below.
var namespaces = map[string]string{
	"dwc": "http://rs.tdwg.org/dwc/terms/", "dcterms": "http://purl.org/dc/terms/", "dc": "http://purl.org/dc/elements/1.1/",
	"obis": "http://rs.iobis.org/obis/terms/",
}

// termIRI is the address of a term written with its prefix.
func termIRI(t string) string {
	prefix, name, _ := strings.Cut(t, ":")
	return namespaces[prefix] + name
}

func termName(t string) string {
	_, name, _ := strings.Cut(t, ":")
	return name
}

// table is one table of the archive: its file, its class and its columns. The
// first column is the core's id or points to it.
type table struct {
	file, rowType string
	core          bool
	columns       []string
}

// The tables. Every column is registered for its class: Event and Occurrence
// 2025-07-10, ExtendedMeasurementOrFact 2023-08-28. New lists of columns are
// expected of the standard; they are to be changed here alone.
var (
	eventTable = table{"event.csv", "http://rs.tdwg.org/dwc/terms/Event", true, []string{
		"dwc:eventID", "dwc:parentEventID", "dwc:eventType", "dwc:fieldNumber", "dwc:eventDate", "dwc:startDayOfYear", "dwc:endDayOfYear",
		"dwc:year", "dwc:month", "dwc:day", "dwc:habitat", "dwc:samplingProtocol", "dwc:sampleSizeValue", "dwc:sampleSizeUnit",
		"dwc:samplingEffort", "dwc:eventRemarks", "dwc:locationID", "dwc:countryCode", "dwc:locality", "dwc:minimumDepthInMeters",
		"dwc:maximumDepthInMeters", "dwc:decimalLatitude", "dwc:decimalLongitude", "dwc:geodeticDatum", "dwc:coordinateUncertaintyInMeters",
		"dwc:coordinatePrecision", "dwc:footprintWKT", "dwc:footprintSRS", "dwc:dataGeneralizations", "dwc:informationWithheld",
		"dwc:dynamicProperties", "dcterms:license", "dwc:datasetID", "dwc:datasetName",
	}}
	occurrenceTable = table{"occurrence.csv", "http://rs.tdwg.org/dwc/terms/Occurrence", false, []string{
		"dwc:eventID", "dwc:occurrenceID", "dwc:basisOfRecord", "dwc:occurrenceStatus", "dwc:individualCount", "dwc:scientificName",
		"dwc:scientificNameID", "dwc:taxonRank", "dwc:kingdom", "dwc:verbatimIdentification", "dwc:behavior", "dwc:eventDate",
		"dwc:samplingProtocol", "dwc:sampleSizeValue", "dwc:sampleSizeUnit", "dwc:samplingEffort", "dwc:occurrenceRemarks",
		"dwc:decimalLatitude", "dwc:decimalLongitude", "dwc:geodeticDatum", "dwc:coordinateUncertaintyInMeters",
		"dwc:dataGeneralizations", "dcterms:license",
	}}
	measurementTable = table{"extendedmeasurementorfact.csv", "http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact", false, []string{
		"dwc:eventID", "dwc:measurementID", "dwc:occurrenceID", "dwc:measurementType", "obis:measurementTypeID", "dwc:measurementValue",
		"obis:measurementValueID", "dwc:measurementUnit", "obis:measurementUnitID", "dwc:measurementDeterminedDate",
		"dwc:measurementDeterminedBy", "dwc:measurementMethod", "dwc:measurementRemarks",
	}}
)

const nvs = "http://vocab.nerc.ac.uk/collection/"

// unit is a unit of measurement: as written, and its code in collection P06.
type unit struct{ text, code string }

func (u unit) iri() string {
	if u.code == "" {
		return ""
	}
	return nvs + "P06/current/" + u.code + "/"
}

// Units, checked against P06 of January 2026.
var (
	noUnit  = unit{}
	metre   = unit{"m", "ULAA"}
	mm      = unit{"mm", "UXMM"}
	degree  = unit{"degree", "UAAA"}
	celsius = unit{"degree Celsius", "UPAA"}
	hour    = unit{"hour", "UHOR"}
	plain   = unit{"dimensionless", "UUUU"}
	counted = unit{"count", "UCNT"}
	aWord   = unit{"not applicable", "XXXX"}
)

// quantity is one kind of measurement. The wording of typ is the key where the
// vocabulary has no concept, and never changes.
type quantity struct {
	typ    string
	p01    string // empty: no concept in P01 of January 2026
	unit   unit
	method string
}

func (q quantity) iri() string {
	if q.p01 == "" {
		return ""
	}
	return nvs + "P01/current/" + q.p01 + "/"
}

// The quantities of a row and of a check. No concept names baits, tethers or
// stakes, so those have no address; a near one would say something false.
var (
	qBaits       = quantity{"number of baits deployed", "", counted, ""}
	qRetrieved   = quantity{"number of stakes retrieved", "", counted, ""}
	qBaitKind    = quantity{"bait kind", "", aWord, ""}
	qBaitForm    = quantity{"bait form", "", aWord, ""}
	qBaitSize    = quantity{"bait size", "", mm, "across the disc, or side of the square"}
	qBaitBatch   = quantity{"bait batch", "", aWord, ""}
	qSpacing     = quantity{"spacing of stakes", "", metre, ""}
	qBearing     = quantity{"bearing of the row", "", degree, "clockwise from true north"}
	qLength      = quantity{"length of the row", "LENTRACK", metre, "spacing times the number of spaces"}
	qControl     = quantity{"control row", "", aWord, "a row that measures bait loss other than by consumers; not part of habitat results"}
	qOtherNear   = quantity{"other habitat near the row", "", aWord, ""}
	qTemperature = quantity{"water temperature", "TEMPPR01", celsius, ""}
	qSalinity    = quantity{"practical salinity", "PSLTZZ01", plain, ""}
	qVisibility  = quantity{"horizontal underwater visibility", "", metre, ""}
	qFurther     = quantity{"further column: ", "", noUnit, "as written on the sheet; its unit is not known"}
	qSoak        = quantity{"soak time", "AZDRZZ01", hour, "from setting out to reading, between the midpoints where both ends are known"}
	qMade        = quantity{"check made", "", aWord, ""}
	qConsumed    = quantity{"number of baits consumed by this check", "", counted, "cumulative from setting out"}
	qLost        = quantity{"number of baits lost by this check", "", counted, "cumulative; never found again, fate not known; not counted as consumed"}
	qUnread      = quantity{"number of baits not read at this check", "", counted, "read again later"}
	qShare       = quantity{"proportion of baits consumed by this check", "", plain, "product limit over the intervals between checks; lost baits leave when last seen"}
	qFate        = quantity{"fate of the bait on one stake", "", aWord, ""}
)
