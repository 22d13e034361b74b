package quality

import (
	"strings"

	"soakline/internal/assay"
)

// siteNames folds the spellings of a site to one, by the site list.
type siteNames struct {
	spelling map[string]string
	listed   map[string]assay.Site
}

func newSiteNames(list []assay.Site) siteNames {
	n := siteNames{spelling: map[string]string{}, listed: map[string]assay.Site{}}
	for _, s := range list {
		name := plain(s.Name)
		n.listed[name] = s
		n.spelling[name] = name
	}
	for _, s := range list {
		for _, other := range s.Synonyms {
			if _, taken := n.spelling[plain(other)]; !taken {
				n.spelling[plain(other)] = plain(s.Name)
			}
		}
	}
	return n
}

// plain is a name without regard to case and to the spaces about and in it.
func plain(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

func (n siteNames) fold(site string) string {
	p := plain(site)
	if one, ok := n.spelling[p]; ok {
		return one
	}
	return p
}
