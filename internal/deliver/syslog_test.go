package deliver

import (
	"crypto/tls"
	"io"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/leodido/go-syslog/v4"
	"github.com/leodido/go-syslog/v4/octetcounting"
	"github.com/leodido/go-syslog/v4/rfc5424"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// parsed reads a message with a parser of another's make.
func parsed(t *testing.T, line []byte) *rfc5424.SyslogMessage {
	t.Helper()
	m, err := rfc5424.NewParser().Parse(line)
	require.NoError(t, err, string(line))
	return m.(*rfc5424.SyslogMessage)
}

func TestALogLineAsTheStandardHasIt(t *testing.T) {
	m := parsed(t, logLine(leak(), "board 7"))
	assert.Equal(t, uint8(3), *m.Facility)
	assert.Equal(t, uint8(1), *m.Severity)
	assert.True(t, m.Timestamp.Equal(noon))
	assert.Equal(t, "board7", *m.Hostname)
	assert.Equal(t, "ductward", *m.Appname)
	assert.Equal(t, "alarm", *m.MsgID)
	assert.Equal(t, "42", (*m.StructuredData)["meta"]["sequenceId"])
	assert.Contains(t, *m.Message, "Tischlerei Öhm: act today: raised: 7 L/s “leak” into trunk 3 [east] since Friday (main/leak-7.1.raised)")
	assert.NotContains(t, *m.Message, "\n")

	for _, c := range []struct {
		l    outbox.Letter
		want uint8
	}{
		{outbox.Letter{Kind: outbox.Alarm, Event: alarm.Raised, Priority: finding.Plan}, 4},
		{outbox.Letter{Kind: outbox.Alarm, Event: alarm.Cleared, Priority: finding.ActToday}, 5},
		{outbox.Letter{Kind: outbox.Heartbeat, Text: "alive"}, 6},
	} {
		assert.Equal(t, c.want, *parsed(t, logLine(&outbox.Item{Letter: c.l}, "")).Severity)
	}
}

func TestALogLineOverEachLine(t *testing.T) {
	cert, ca := certificate(t)
	for _, kind := range []shop.SyslogLine{shop.SyslogUDP, shop.SyslogTCP, shop.SyslogTLS} {
		t.Run(string(kind), func(t *testing.T) {
			got := make(chan []byte, 1)
			s := &shop.Syslog{Line: kind, Host: "127.0.0.1"}
			if kind == shop.SyslogUDP {
				c, err := net.ListenPacket("udp", "127.0.0.1:0")
				require.NoError(t, err)
				defer c.Close()
				s.Port = c.LocalAddr().(*net.UDPAddr).Port
				go func() {
					b := make([]byte, 65536)
					n, _, _ := c.ReadFrom(b)
					got <- b[:n]
				}()
			} else {
				l, err := net.Listen("tcp", "127.0.0.1:0")
				require.NoError(t, err)
				s.Port = l.Addr().(*net.TCPAddr).Port
				if kind == shop.SyslogTLS {
					l, s.CAFile = tls.NewListener(l, &tls.Config{Certificates: []tls.Certificate{cert}}), ca
				}
				defer l.Close()
				go func() {
					c, err := l.Accept()
					if err != nil {
						return
					}
					b, _ := io.ReadAll(c)
					_ = c.Close()
					got <- b
				}()
			}
			target, err := newSyslog(s)
			require.NoError(t, err)
			require.NoError(t, target.Send(t.Context(), leak()))
			line := <-got
			if kind == shop.SyslogUDP {
				assert.Equal(t, "alarm", *parsed(t, line).MsgID)
				return
			}
			count := 0
			octetcounting.NewParser(syslog.WithListener(func(r *syslog.Result) {
				assert.NoError(t, r.Error)
				count++
			})).Parse(strings.NewReader(string(line)))
			assert.Equal(t, 1, count)
		})
	}
}

func TestALongLogLineIsCutBetweenLetters(t *testing.T) {
	c, err := net.ListenPacket("udp", "127.0.0.1:0")
	require.NoError(t, err)
	defer c.Close()
	it := leak()
	it.Letter.Alarm.Text = strings.Repeat("ö", 3000)
	target, err := newSyslog(&shop.Syslog{Line: shop.SyslogUDP, Host: "127.0.0.1", Port: c.LocalAddr().(*net.UDPAddr).Port})
	require.NoError(t, err)
	require.NoError(t, target.Send(t.Context(), it))
	require.NoError(t, c.SetReadDeadline(time.Now().Add(5*time.Second)))
	b := make([]byte, 65536)
	n, _, err := c.ReadFrom(b)
	require.NoError(t, err)
	assert.LessOrEqual(t, n, longestDatagram)
	parsed(t, b[:n])
}

func TestACollectorThatIsAway(t *testing.T) {
	for _, kind := range []shop.SyslogLine{shop.SyslogTCP, shop.SyslogTLS} {
		target, err := newSyslog(&shop.Syslog{Line: kind, Host: "127.0.0.1", Port: 1})
		require.NoError(t, err)
		assert.Error(t, target.Send(t.Context(), leak()), kind)
	}
}
