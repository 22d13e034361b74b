package logbook

import (
	"encoding/binary"
	"io"
	"sync"
	"time"

	"github.com/google/uuid"
)

// keyMaker gives UUIDs of version 7 (RFC 9562 section 5.7) for an instant that
// is passed in. Keys given for one instant count upwards (section 6.2, method
// 1: 26 bits of counter, 48 of chance), so that the records of one import sort
// in the order in which they were put.
type keyMaker struct {
	mu     sync.Mutex
	random io.Reader
	lastMs int64
	count  uint32
}

func (m *keyMaker) next(when time.Time) (string, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	var r [8]byte
	if _, err := io.ReadFull(m.random, r[:]); err != nil {
		return "", err
	}
	ms := when.UnixMilli()
	if ms != m.lastMs {
		m.lastMs = ms
		m.count = uint32(binary.BigEndian.Uint16(r[6:]) >> 1) // starts low, so that it can count far
	} else {
		m.count++
	}
	var u uuid.UUID
	binary.BigEndian.PutUint64(u[0:8], uint64(ms)<<16)
	u[6] = 0x70 | byte(m.count>>22)&0x0f
	u[7] = byte(m.count >> 14)
	u[8] = 0x80 | byte(m.count>>8)&0x3f
	u[9] = byte(m.count)
	copy(u[10:], r[:6])
	return u.String(), nil
}
