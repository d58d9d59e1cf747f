package journal

import (
	"crypto/rand"
	"encoding/binary"
	"fmt"
	"time"
)

// NewID makes an id for an event that the server itself records: a UUID of
// version 7 (RFC 9562, 5.7), which sorts by its time to the millisecond. A
// device makes its own, so that it can send an event twice.
func NewID(now time.Time) string {
	var b [16]byte
	_, _ = rand.Read(b[6:]) // crypto/rand never fails: it ends the program instead
	var ms [8]byte
	binary.BigEndian.PutUint64(ms[:], uint64(now.UnixMilli()))
	copy(b[:6], ms[2:])
	b[6] = b[6]&0x0f | 0x70
	b[8] = b[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", b[:4], b[4:6], b[6:8], b[8:10], b[10:])
}
