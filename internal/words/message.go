package words

import "encoding/json"

// Message is one thing to be told beside a result. In JSON, which stays
// English, it is {"slug", "text"}.
type Message struct {
	Slug string
	With map[string]any
}

// In is the message in a language.
func (m Message) In(l Language) string { return l.Say(m.Slug, m.With) }

// MarshalJSON writes the slug and the English sentence.
func (m Message) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Slug string `json:"slug"`
		Text string `json:"text"`
	}{m.Slug, m.In(English)})
}
