package publish

import "strconv"

// metaXML is the metafile of the archive: which file holds what.
//
// Source: Darwin Core text guide, 2023-09-13.
func metaXML(tables []table) []byte {
	d := newDoc()
	d.inside("archive", func() {
		for _, t := range tables {
			kind, id := "extension", "coreid"
			if t.core {
				kind, id = "core", "id"
			}
			d.inside(kind, func() {
				d.inside("files", func() { d.text("location", t.file) })
				d.empty(id, "index", "0")
				for i, c := range t.columns {
					if i == 0 && !t.core {
						continue
					}
					d.empty("field", "index", strconv.Itoa(i), "term", termIRI(c))
				}
			}, "rowType", t.rowType, "encoding", "UTF-8", "fieldsTerminatedBy", ",", "linesTerminatedBy", `\n`,
				"fieldsEnclosedBy", `"`, "ignoreHeaderLines", "1")
		}
	}, "xmlns", "http://rs.tdwg.org/dwc/text/", "metadata", "eml.xml")
	return d.bytes()
}
