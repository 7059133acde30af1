package daemon

import (
	"bufio"
	"context"
	"encoding/json"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"
)

// realBroker is a Mosquitto on loopback.
type realBroker struct {
	t    *testing.T
	port string
	conf string
	as   []string // what outside clients say beside host and port
	cmd  *exec.Cmd
}

// startBroker starts a real broker that lets everybody in, and skips the test where there is none.
func startBroker(t *testing.T) *realBroker { return startBrokerWith(t, "allow_anonymous true\n") }

// startBrokerWith starts one with more lines of configuration, which outside clients meet with more arguments.
func startBrokerWith(t *testing.T, conf string, as ...string) *realBroker {
	t.Helper()
	for _, name := range []string{"mosquitto", "mosquitto_pub", "mosquitto_sub"} {
		if _, err := exec.LookPath(name); err != nil {
			t.Skip("this test needs the broker and clients of the Mosquitto package: " + name + " is not installed")
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	require.NoError(t, l.Close())
	b := &realBroker{t: t, port: port, conf: filepath.Join(t.TempDir(), "mosquitto.conf"), as: as}
	require.NoError(t, os.WriteFile(b.conf, []byte("listener "+port+" 127.0.0.1\n"+conf), 0o600))
	b.start()
	t.Cleanup(b.stop)
	return b
}

func (b *realBroker) url() string { return "tcp://127.0.0.1:" + b.port }

func (b *realBroker) start() {
	b.t.Helper()
	b.cmd = exec.Command("mosquitto", "-c", b.conf)
	require.NoError(b.t, b.cmd.Start())
	eventually(b.t, "the broker listens", func() bool {
		c, err := net.Dial("tcp", "127.0.0.1:"+b.port)
		if err == nil {
			_ = c.Close()
		}
		return err == nil
	})
}

func (b *realBroker) stop() {
	if b.cmd == nil {
		return
	}
	_ = b.cmd.Process.Kill()
	_ = b.cmd.Wait() // it was killed
	b.cmd = nil
}

func (b *realBroker) publish(topic, payload string) {
	b.t.Helper()
	args := append([]string{"-h", "127.0.0.1", "-p", b.port, "-q", "1", "-t", topic, "-m", payload}, b.as...)
	out, err := exec.Command("mosquitto_pub", args...).CombinedOutput()
	require.NoError(b.t, err, string(out))
}

// heard is what an outside client has received: the newest payload of each topic, and whether it was retained.
type heard struct {
	mu       sync.Mutex
	payload  map[string]string
	retained map[string]bool
	count    map[string]int
	all      []message // in their order
}

// listen starts an outside client on all topics.
func (b *realBroker) listen() *heard {
	b.t.Helper()
	h := &heard{payload: map[string]string{}, retained: map[string]bool{}, count: map[string]int{}}
	ctx, stop := context.WithCancel(context.Background())
	args := append([]string{"-h", "127.0.0.1", "-p", b.port, "-q", "1", "-t", "#", "-F", "%r %t %p"}, b.as...)
	cmd := exec.CommandContext(ctx, "mosquitto_sub", args...)
	out, err := cmd.StdoutPipe()
	require.NoError(b.t, err)
	require.NoError(b.t, cmd.Start())
	done := make(chan struct{})
	go func() {
		defer close(done)
		for lines := bufio.NewScanner(out); lines.Scan(); {
			h.line(lines.Text())
		}
	}()
	b.t.Cleanup(func() { stop(); <-done; _ = cmd.Wait() })
	return h
}

func (h *heard) line(s string) {
	f := strings.SplitN(s, " ", 3)
	if len(f) < 3 {
		return
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.payload[f[1]], h.retained[f[1]] = f[2], f[0] == "1"
	h.count[f[1]]++
	h.all = append(h.all, message{topic: f[1], payload: []byte(f[2])})
}

// packID is what a receiver tells a pack by.
type packID struct {
	topic string
	boot  uint32
	seq   uint64
}

func idOf(t require.TestingT, m message) packID {
	var boot, seq float64
	var pack []senml
	require.NoError(t, json.Unmarshal(m.payload, &pack))
	for _, rec := range pack {
		switch {
		case strings.HasSuffix(rec.Name, "boot"):
			boot = *rec.Value
		case strings.HasSuffix(rec.Name, "seq"):
			seq = *rec.Value
		}
	}
	require.Positive(t, boot, string(m.payload))
	require.Positive(t, seq, string(m.payload))
	return packID{m.topic, uint32(boot), uint64(seq)}
}

// values are the packs that were heard. One that was heard twice, as QoS 1 allows, is dropped, as a receiver does.
func (h *heard) values(t *testing.T) (out []message) {
	have := map[packID]bool{}
	for _, m := range h.under(root + "/") {
		if m.payload[0] != '[' {
			continue
		}
		if id := idOf(t, m); !have[id] {
			have[id] = true
			out = append(out, m)
		}
	}
	return out
}

// under are all that came on topics that begin with prefix.
func (h *heard) under(prefix string) (out []message) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, m := range h.all {
		if strings.HasPrefix(m.topic, prefix) {
			out = append(out, m)
		}
	}
	return out
}

func (h *heard) on(topic string) string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.payload[topic]
}

// alarm returns how the one alarm stands.
func (h *heard) alarm() string {
	all := h.under(root + "/alarm/")
	if len(all) == 0 {
		return ""
	}
	return string(all[len(all)-1].payload)
}

// cable passes bytes between the daemon and the broker until it is cut.
type cable struct {
	t  *testing.T
	l  net.Listener
	to string

	mu    sync.Mutex
	conns []net.Conn
	wg    sync.WaitGroup
}

func newCable(t *testing.T, at, to string) *cable {
	t.Helper()
	l, err := net.Listen("tcp", at)
	require.NoError(t, err)
	c := &cable{t: t, l: l, to: to}
	c.wg.Go(c.accept)
	t.Cleanup(func() { c.cut(); c.wg.Wait() })
	return c
}

func (c *cable) address() string { return c.l.Addr().String() }

func (c *cable) accept() {
	for {
		near, err := c.l.Accept()
		if err != nil {
			return
		}
		far, err := net.Dial("tcp", c.to)
		if err != nil {
			_ = near.Close()
			continue
		}
		c.mu.Lock()
		c.conns = append(c.conns, near, far)
		c.mu.Unlock()
		c.wg.Go(func() { pass(far, near) })
		c.wg.Go(func() { pass(near, far) })
	}
}

func pass(to, from net.Conn) {
	_, _ = bufio.NewReader(from).WriteTo(to) // ends with the cut
	_ = to.Close()
}

// cut ends every connection, as a power cut at the daemon's end does, and lets none be made again.
func (c *cable) cut() {
	_ = c.l.Close()
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, x := range c.conns {
		if tcp, ok := x.(*net.TCPConn); ok {
			_ = tcp.SetLinger(0)
		}
		_ = x.Close()
	}
}
