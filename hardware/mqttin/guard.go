package mqttin

import (
	"fmt"
	"net"
)

// largestPacket is far over the largest payload that is looked at with its topic. The client library would take the
// 256 MB that the protocol allows into memory, which a small board does not have.
const largestPacket = 256 << 10

// guarded is a connection that ends when a packet is announced that is too large. It reads along with the fixed headers
// (MQTT 3.1.1, 2.2): a byte of type, then one to four bytes of remaining length, seven bits each, low ones first.
type guarded struct {
	net.Conn
	body   int  // bytes of the present packet's body that are to come
	length int  // as read so far
	shift  uint // of the next seven bits
	inside bool // the type byte was read, the length is not complete
}

// Read reads, and fails once a packet is too large.
func (g *guarded) Read(p []byte) (int, error) {
	n, err := g.Conn.Read(p)
	if e := g.follow(p[:n]); e != nil {
		return 0, e
	}
	return n, err
}

func (g *guarded) follow(p []byte) error {
	for len(p) > 0 {
		switch {
		case g.body > 0:
			k := min(g.body, len(p))
			g.body -= k
			p = p[k:]
			continue
		case !g.inside:
			g.inside, g.length, g.shift = true, 0, 0
		default:
			g.length |= int(p[0]&0x7F) << g.shift
			g.shift += 7
			if g.length > largestPacket || g.shift > 28 {
				return fmt.Errorf("the broker sends a packet of over %d bytes", largestPacket)
			}
			if p[0]&0x80 == 0 {
				g.inside, g.body = false, g.length
			}
		}
		p = p[1:]
	}
	return nil
}
