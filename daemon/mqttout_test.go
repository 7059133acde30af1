package daemon

import (
	"crypto/x509"
	"encoding/json"
	"encoding/pem"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
)

// An alarm that changes while the broker is away, and a daemon that ends before it is back: the change is published by the
// next one, under the boot and the number that it had.
func TestWhatTheBrokerMissedIsPublishedAfterARestart(t *testing.T) {
	broker := startBroker(t)
	b := newBoard()
	cfg := smallConfig(t, b)
	cfg.Shop = publishingShop(broker)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	outside := broker.listen()
	b.unplug("t/filter")
	eventually(t, "the alarm", func() bool { return outside.alarm() != "" })
	broker.stop()
	b.set("t/filter", 0.5)
	eventually(t, "it clears while the broker is away", func() bool { return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1 })
	boot := r.d.open.fold.in.boot
	_, err := r.d.open.fold.alarms.Acknowledge(r.d.open.fold.alarms.Standing()[0].ID, "Ines", cfg.Clock.Now())
	require.NoError(t, err)
	require.NoError(t, r.end())

	broker.start()
	outside = broker.listen()
	r = start(t, cfg)
	eventually(t, "how it stood", func() bool { return outside.alarm() != "" })
	eventually(t, "what it became", func() bool {
		return strings.Contains(outside.alarm(), string(alarm.ClearedUnacknowledged))
	})
	var a publishedAlarm
	require.NoError(t, json.Unmarshal([]byte(outside.alarm()), &a))
	assert.Equal(t, boot, a.Boot)
	assert.Positive(t, a.Seq)
	assert.NotEmpty(t, a.Causes)
	assert.Contains(t, a.Cautions[0], "lock out")
	require.NoError(t, r.end())
}

// A broker with TLS and a password hears the daemon that has both, and values carry numbers by which a receiver drops
// repeats.
func TestPublishingOverTLSWithAPassword(t *testing.T) {
	dir := t.TempDir()
	in := func(name string) string { return filepath.Join(dir, name) }
	server := httptest.NewUnstartedServer(http.NotFoundHandler()) // for its certificate, of 127.0.0.1
	server.StartTLS()
	server.Close()
	key, err := x509.MarshalPKCS8PrivateKey(server.TLS.Certificates[0].PrivateKey)
	require.NoError(t, err)
	certificate := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.TLS.Certificates[0].Certificate[0]})
	for name, data := range map[string][]byte{"cert": certificate, "key": pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: key}),
		"password": []byte("plane-iron-4711\n")} {
		require.NoError(t, os.WriteFile(in(name), data, 0o600))
	}
	program, err := exec.LookPath("mosquitto_passwd")
	if err != nil {
		t.Skip("this test needs mosquitto_passwd of the Mosquitto package")
	}
	out, err := exec.Command(program, "-b", "-c", in("users"), "quernstone", "plane-iron-4711").CombinedOutput()
	require.NoError(t, err, string(out))
	// A broker that was started by root works as another user, who must be able to read the file.
	require.NoError(t, os.Chmod(dir, 0o755))
	require.NoError(t, os.Chmod(in("users"), 0o644))
	broker := startBrokerWith(t, "user root\ncertfile "+in("cert")+"\nkeyfile "+in("key")+"\nallow_anonymous false\npassword_file "+in("users")+"\n",
		"--cafile", in("cert"), "--insecure", "-u", "quernstone", "-P", "plane-iron-4711")

	b := newBoard()
	b.set("t/fan", 1)
	cfg := smallConfig(t, b)
	cfg.Shop = publishingShop(broker)
	m := cfg.Shop.Outbound.MQTT
	m.Broker, m.CAFile, m.Username, m.PasswordFile = "ssl://127.0.0.1:"+broker.port, in("cert"), "quernstone", in("password")
	outside := broker.listen()
	r := start(t, cfg)
	eventually(t, "birth", func() bool { return outside.on(root+"/status") == online })
	eventually(t, "values", func() bool { return len(outside.values(t)) > 5 })
	b.unplug("t/filter")
	eventually(t, "an alarm", func() bool { return outside.alarm() != "" })
	require.NoError(t, r.end())
	newest := map[string]uint64{}
	for _, m := range outside.values(t) {
		id := idOf(t, m)
		require.Greater(t, id.seq, newest[m.topic], "numbers of a topic rise: "+m.topic)
		newest[m.topic] = id.seq
	}
	assert.NotContains(t, r.log.String(), "4711")

	m.PasswordFile = in("wrong")
	require.NoError(t, os.WriteFile(in("wrong"), []byte("plane-iron-4712\n"), 0o600))
	r = start(t, cfg)
	eventually(t, "the refusal", func() bool { return strings.Contains(r.log.String(), "connection to the broker failed") })
	require.NoError(t, r.end())
}
