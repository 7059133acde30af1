package mqttin

import (
	"net"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// packet makes an MQTT packet of a type and a body of n bytes, the length as in MQTT 3.1.1, 2.2.3.
func packet(kind byte, n int) []byte {
	p := []byte{kind}
	for rest := n; ; {
		b := byte(rest % 128)
		rest /= 128
		if rest > 0 {
			b |= 0x80
		}
		p = append(p, b)
		if rest == 0 {
			return append(p, make([]byte, n)...)
		}
	}
}

// TestGuardLetsPass: any sequence of packets passes, however it is cut.
func TestGuardLetsPass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var stream []byte
		for range rapid.IntRange(1, 5).Draw(t, "packets") {
			stream = append(stream, packet(0x30, rapid.SampledFrom([]int{0, 1, 127, 128, 16383, 16384, 70000}).Draw(t, "size"))...)
		}
		var g guarded
		for len(stream) > 0 {
			n := min(rapid.IntRange(1, 40000).Draw(t, "cut"), len(stream))
			if err := g.follow(stream[:n]); err != nil {
				t.Fatal(err)
			}
			stream = stream[n:]
		}
		if g.body != 0 || g.inside {
			t.Fatalf("ends within a packet: %d bytes", g.body)
		}
	})
}

func TestGuardEndsTheConnection(t *testing.T) {
	var g guarded
	require.NoError(t, g.follow(packet(0x30, largestPacket)))
	assert.ErrorContains(t, g.follow([]byte{0x30, 0xFF, 0xFF, 0xFF, 0x7F}), "over 262144 bytes")
	g = guarded{}
	assert.Error(t, g.follow([]byte{0x30, 0x80, 0x80, 0x80, 0x80, 0x80, 0x01}), "a length of more than four bytes")

	here, there := net.Pipe()
	defer here.Close()
	go func() { there.Write([]byte{0x30, 0xFF, 0xFF, 0xFF, 0x7F}); there.Close() }()
	_, err := (&guarded{Conn: here}).Read(make([]byte, 100))
	assert.ErrorContains(t, err, "the broker sends a packet")
}
