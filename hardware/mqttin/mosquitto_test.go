package mqttin

import (
	"bytes"
	"context"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"log/slog"
	"net"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"ductward/internal/clock"
	"ductward/internal/reading"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// patience is how long these tests wait for another process; they never wait that long when all is well.
const patience = 30 * time.Second

// tool finds a program of the Mosquitto broker, or skips the test.
func tool(t *testing.T, name string) string {
	for _, candidate := range []string{name, "/usr/sbin/" + name} {
		if path, err := exec.LookPath(candidate); err == nil {
			return path
		}
	}
	t.Skipf("%s is not installed: the test with a real broker is left out", name)
	return ""
}

// broker is a real Mosquitto on a free port of the loopback.
type broker struct {
	t      *testing.T
	port   string
	config string
	cmd    *exec.Cmd
	output bytes.Buffer
}

func startBroker(t *testing.T) *broker { return startBrokerWith(t, "allow_anonymous true\n") }

func startBrokerWith(t *testing.T, more string) *broker {
	tool(t, "mosquitto_pub")
	b := &broker{t: t, port: freePort(t), config: filepath.Join(t.TempDir(), "mosquitto.conf")}
	text := fmt.Sprintf("listener %s 127.0.0.1\npersistence false\n%s", b.port, more)
	require.NoError(t, os.WriteFile(b.config, []byte(text), 0o600))
	b.start()
	t.Cleanup(b.stop)
	return b
}

// freePort asks the kernel for a port that is free now. Another process may take it before the broker does, and then
// the test fails at its start.
func freePort(t *testing.T) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

func (b *broker) start() {
	b.cmd = exec.Command(tool(b.t, "mosquitto"), "-c", b.config)
	b.cmd.Stdout, b.cmd.Stderr = &b.output, &b.output
	require.NoError(b.t, b.cmd.Start())
	require.Eventually(b.t, func() bool {
		c, err := net.Dial("tcp", "127.0.0.1:"+b.port)
		if err == nil {
			c.Close()
		}
		return err == nil
	}, patience, 10*time.Millisecond, "the broker does not listen")
}

func (b *broker) stop() {
	if b.cmd == nil {
		return
	}
	_ = b.cmd.Process.Kill()
	_ = b.cmd.Wait()
	b.cmd = nil
}

func (b *broker) publish(topic, payload string, more ...string) {
	b.t.Helper()
	args := append([]string{"-h", "127.0.0.1", "-p", b.port, "-q", "1", "-t", topic, "-m", payload}, more...)
	out, err := exec.Command(tool(b.t, "mosquitto_pub"), args...).CombinedOutput()
	require.NoError(b.t, err, "%s", out)
}

// listen runs a subscriber until the test ends, and fails when it does not end with its context.
func (b *broker) listen(in *Inbox) {
	b.listenAs(in, Broker{URL: "tcp://127.0.0.1:" + b.port, ClientID: "ductward-test-in"}, slog.DiscardHandler)
}

func (b *broker) listenAs(in *Inbox, as Broker, log slog.Handler) {
	ctx, cancel := context.WithCancel(context.Background())
	s := NewSubscriber(as, in, clock.NewSystem(), slog.New(log))
	done := make(chan error, 1)
	go func() { done <- s.Run(ctx) }()
	b.t.Cleanup(func() {
		cancel()
		select {
		case err := <-done:
			assert.ErrorIs(b.t, err, context.Canceled)
		case <-time.After(patience):
			assert.Fail(b.t, "the subscriber does not end")
		}
	})
}

func (b *broker) waitOnline(in *Inbox, want bool) {
	b.t.Helper()
	require.Eventually(b.t, func() bool {
		in.mu.Lock()
		defer in.mu.Unlock()
		return in.online == want
	}, patience, 5*time.Millisecond, "online: %t", want)
}

func next(t *testing.T, in *Inbox) reading.Reading {
	t.Helper()
	select {
	case r := <-in.Readings():
		return r
	case <-time.After(patience):
		require.Fail(t, "nothing comes")
		return reading.Reading{}
	}
}

// TestRealBroker goes through a Mosquitto: a number, a SenML pack, a switch, what is no value, what was kept, and a
// broker that goes and comes back.
func TestRealBroker(t *testing.T) {
	b := startBroker(t)
	in := inbox(t)
	b.publish("dp", "999", "-r") // kept from before, of unknown age
	b.listen(in)
	b.waitOnline(in, true)

	b.publish("dp", "-250.5")
	r := next(t, in)
	assert.Equal(t, "main/dp", r.Channel)
	assert.Equal(t, -250.5, r.Value, "the number that was kept must not come")
	b.publish("dp", `[{"n":"dp","u":"kPa","v":1.5}]`)
	assert.Equal(t, 1500.0, next(t, in).Value)
	b.publish("saw", "open")
	assert.Equal(t, 1.0, next(t, in).Value)
	b.publish("elsewhere", "1")
	b.publish("dp", "NaN")
	b.publish("saw", "shut")
	r = next(t, in)
	assert.Equal(t, "gate/saw", r.Channel, "what is no value is no reading")
	assert.Zero(t, r.Value)

	b.stop()
	b.waitOnline(in, false)
	b.start()
	b.waitOnline(in, true)
	b.publish("dp", "7")
	assert.Equal(t, 7.0, next(t, in).Value)
}

// TestBrokerThatComesLater: a subscriber waits for a broker that is not there yet.
func TestBrokerThatComesLater(t *testing.T) {
	b := startBroker(t)
	b.stop()
	in := inbox(t)
	b.listen(in)
	assert.Len(t, in.Troubles(time.Hour), 2)
	b.start()
	b.waitOnline(in, true)
	b.publish("dp", "8")
	assert.Equal(t, 8.0, next(t, in).Value)
}

// TestKeptWithItsTime: a value that the broker kept counts when it says how old it is.
func TestKeptWithItsTime(t *testing.T) {
	b := startBroker(t)
	in := inbox(t)
	measured := time.Now().Add(-3 * time.Second).Truncate(time.Second)
	b.publish("dp", fmt.Sprintf(`[{"n":"dp","u":"Pa","v":42,"t":%d}]`, measured.Unix()), "-r")
	b.listen(in)
	r := next(t, in)
	assert.Equal(t, 42.0, r.Value)
	assert.True(t, measured.Equal(r.Time), "label %s, want %s", r.Time, measured)
}

// TestOversizedMessage: a message that would fill the board's memory ends the connection, which is made again.
func TestOversizedMessage(t *testing.T) {
	b := startBroker(t)
	in := inbox(t)
	b.listen(in)
	b.waitOnline(in, true)
	file := filepath.Join(t.TempDir(), "large")
	require.NoError(t, os.WriteFile(file, bytes.Repeat([]byte("1"), 2*largestPacket), 0o600))
	out, err := exec.Command(tool(t, "mosquitto_pub"), "-h", "127.0.0.1", "-p", b.port, "-q", "0", "-t", "dp", "-f", file).CombinedOutput()
	require.NoError(t, err, "%s", out)
	b.waitOnline(in, false)
	b.waitOnline(in, true)
	b.publish("dp", "9")
	assert.Equal(t, 9.0, next(t, in).Value)
}

// TestPassword: a user with a password gets in, and one with a wrong password is told so in the log.
func TestPassword(t *testing.T) {
	file := filepath.Join(t.TempDir(), "users")
	out, err := exec.Command(tool(t, "mosquitto_passwd"), "-b", "-c", file, "wall", "sawdust").CombinedOutput()
	require.NoError(t, err, "%s", out)
	// A broker that was started by root works as another user, who must be able to read the file.
	require.NoError(t, os.Chmod(filepath.Dir(file), 0o755))
	require.NoError(t, os.Chmod(file, 0o644))
	b := startBrokerWith(t, "user root\nallow_anonymous false\npassword_file "+file+"\n")
	as := Broker{URL: "tcp://127.0.0.1:" + b.port, ClientID: "a", Username: "wall", Password: "wrong"}

	refused := &watched{found: make(chan struct{}), text: "not Authorized"}
	b.listenAs(inbox(t), as, slog.NewTextHandler(refused, nil))
	select {
	case <-refused.found:
	case <-time.After(patience):
		assert.Fail(t, "the log does not tell of the refusal")
	}

	in := inbox(t)
	as.ClientID, as.Password = "b", "sawdust"
	b.listenAs(in, as, slog.DiscardHandler)
	b.waitOnline(in, true)
	b.publish("dp", "5", "-u", "wall", "-P", "sawdust")
	assert.Equal(t, 5.0, next(t, in).Value)
}

// watched tells when a text is written.
type watched struct {
	text  string
	found chan struct{}
	once  sync.Once
}

func (w *watched) Write(p []byte) (int, error) {
	if bytes.Contains(p, []byte(w.text)) {
		w.once.Do(func() { close(w.found) })
	}
	return len(p), nil
}

// TestTLS: over ssl, with a certificate that the broker's own authority signed.
func TestTLS(t *testing.T) {
	server := httptest.NewUnstartedServer(nil) // for its certificate, which is good for 127.0.0.1
	server.StartTLS()
	server.Close()
	key, err := x509.MarshalPKCS8PrivateKey(server.TLS.Certificates[0].PrivateKey)
	require.NoError(t, err)
	dir := t.TempDir()
	certFile, keyFile := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
	require.NoError(t, os.WriteFile(certFile, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw}), 0o600))
	require.NoError(t, os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key}), 0o600))
	b := startBrokerWith(t, fmt.Sprintf("user root\nallow_anonymous true\ncertfile %s\nkeyfile %s\n", certFile, keyFile))
	roots := x509.NewCertPool()
	roots.AddCert(server.Certificate())

	in := inbox(t)
	b.listenAs(in, Broker{URL: "ssl://127.0.0.1:" + b.port, ClientID: "a", TLS: &tls.Config{RootCAs: roots, MinVersion: tls.VersionTLS12}}, slog.DiscardHandler)
	b.waitOnline(in, true)
	b.publish("dp", "6", "--cafile", certFile, "--insecure")
	assert.Equal(t, 6.0, next(t, in).Value)

	stranger := &watched{found: make(chan struct{}), text: "certificate"}
	b.listenAs(inbox(t), Broker{URL: "ssl://127.0.0.1:" + b.port, ClientID: "b"}, slog.NewTextHandler(stranger, nil))
	select {
	case <-stranger.found:
	case <-time.After(patience):
		assert.Fail(t, "a certificate that nobody vouches for must be refused")
	}
}

// TestWrongScheme: a broker's address that is none says how to write one.
func TestWrongScheme(t *testing.T) {
	in := inbox(t)
	told := &watched{found: make(chan struct{}), text: "tcp://host:port"}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	s := NewSubscriber(Broker{URL: "http://127.0.0.1:1", ClientID: "x"}, in, clock.NewSystem(), slog.New(slog.NewTextHandler(told, nil)))
	go func() { ended <- s.Run(ctx) }()
	select {
	case <-told.found:
	case <-time.After(patience):
		assert.Fail(t, "an address that is none must be told with how to write one")
	}
	cancel()
	assert.ErrorIs(t, <-ended, context.Canceled)
}
