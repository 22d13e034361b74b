package assay

import "encoding/json"

// Maybe is a value that may be missing. Missing is never zero: a count that
// was not read and a count of nothing are two different answers.
type Maybe[T any] struct {
	value T
	known bool
}

// Some is a known value.
func Some[T any](v T) Maybe[T] { return Maybe[T]{value: v, known: true} }

// None is a missing value; the zero Maybe is the same.
func None[T any]() Maybe[T] { return Maybe[T]{} }

// Get returns the value and whether it is known.
func (m Maybe[T]) Get() (T, bool) { return m.value, m.known }

// Known says whether there is a value.
func (m Maybe[T]) Known() bool { return m.known }

// Or returns the value, or other when it is missing.
func (m Maybe[T]) Or(other T) T {
	if m.known {
		return m.value
	}
	return other
}

// MarshalJSON writes null for a missing value.
func (m Maybe[T]) MarshalJSON() ([]byte, error) {
	if !m.known {
		return []byte("null"), nil
	}
	return json.Marshal(m.value)
}

// UnmarshalJSON reads null as missing.
func (m *Maybe[T]) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*m = Maybe[T]{}
		return nil
	}
	m.known = true
	return json.Unmarshal(b, &m.value)
}
