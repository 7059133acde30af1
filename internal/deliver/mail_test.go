package deliver

import (
	"crypto/tls"
	"errors"
	"io"
	"net"
	"net/mail"
	"strconv"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/shop"
)

// office is a mail server that knows one user.
type office struct {
	mu    sync.Mutex
	mails []*mail.Message
	to    []string
	from  string
	tls   bool
	fail  error
}

func (o *office) NewSession(c *smtp.Conn) (smtp.Session, error) {
	_, o.tls = c.TLSConnectionState()
	return &session{o: o}, nil
}

type session struct {
	o      *office
	signed bool
}

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, username, password string) error {
		if username != "watch" || password != "walnut 9" {
			return smtp.ErrAuthFailed
		}
		s.signed = true
		return nil
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	if !s.signed {
		return smtp.ErrAuthRequired
	}
	s.o.from = from
	return s.o.fail
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.o.to = append(s.o.to, to)
	return nil
}

func (s *session) Data(r io.Reader) error {
	m, err := mail.ReadMessage(r)
	if err != nil {
		return err
	}
	s.o.mu.Lock()
	defer s.o.mu.Unlock()
	body, err := io.ReadAll(m.Body)
	m.Body = &kept{body}
	s.o.mails = append(s.o.mails, m)
	return err
}

func (*session) Reset()        {}
func (*session) Logout() error { return nil }

type kept struct{ body []byte }

func (k *kept) Read(p []byte) (int, error) {
	if len(k.body) == 0 {
		return 0, io.EOF
	}
	n := copy(p, k.body)
	k.body = k.body[n:]
	return n, nil
}

// mailServer starts a server on loopback, with TLS from the first byte or by STARTTLS.
func mailServer(t *testing.T, direct bool) (*office, shop.Mail) {
	t.Helper()
	cert, ca := certificate(t)
	o := &office{}
	s := smtp.NewServer(o)
	s.Domain, s.TLSConfig = "localhost", &tls.Config{Certificates: []tls.Certificate{cert}}
	s.ReadTimeout, s.WriteTimeout = 10*time.Second, 10*time.Second
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	m := shop.Mail{Host: "127.0.0.1", Username: "watch", Password: shop.Secret{File: secretFile(t, "walnut 9")}, CAFile: ca,
		From: "watch@example.org", To: []string{"ann@example.org", "ben@example.org"}}
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	m.Port, err = strconv.Atoi(port)
	require.NoError(t, err)
	if direct {
		l, m.Encryption = tls.NewListener(l, s.TLSConfig), shop.TLS
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = s.Serve(l) }()
	t.Cleanup(func() { _ = s.Close(); <-done })
	return o, m
}

func TestAMailThroughARealServer(t *testing.T) {
	for name, direct := range map[string]bool{"STARTTLS": false, "TLS": true} {
		t.Run(name, func(t *testing.T) {
			o, m := mailServer(t, direct)
			target, err := newMail(&m)
			require.NoError(t, err)
			require.NoError(t, target.Send(t.Context(), leak()))
			require.NoError(t, target.Send(t.Context(), leak()))
			require.Len(t, o.mails, 2)
			got := o.mails[0]
			assert.True(t, o.tls, "nothing is said before the line is encrypted")
			assert.Equal(t, "watch@example.org", o.from)
			assert.Equal(t, []string{"ann@example.org", "ben@example.org"}, o.to[:2], "and nobody whom a subject names")
			assert.Empty(t, got.Header.Get("Bcc"))
			assert.Equal(t, "auto-generated", got.Header.Get("Auto-Submitted"))
			assert.Equal(t, got.Header.Get("Message-Id"), o.mails[1].Header.Get("Message-Id"), "a repeat can be told")
			date, err := got.Header.Date()
			require.NoError(t, err)
			assert.True(t, date.Equal(noon))
			body, err := io.ReadAll(got.Body)
			require.NoError(t, err)
			assert.Contains(t, string(body), "What to do: look.", "a line with a dot alone ends nothing")
		})
	}
}

func TestAMailThatIsNotTaken(t *testing.T) {
	o, m := mailServer(t, false)
	o.fail = errors.New("mailbox full")
	target, err := newMail(&m)
	require.NoError(t, err)
	require.ErrorContains(t, target.Send(t.Context(), leak()), "mailbox full")

	m.Password = shop.Secret{File: secretFile(t, "walnut 8")}
	target, err = newMail(&m)
	require.NoError(t, err)
	err = target.Send(t.Context(), leak())
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "walnut")

	m.CAFile = "" // nobody knows its certificate
	target, err = newMail(&m)
	require.NoError(t, err)
	require.ErrorContains(t, target.Send(t.Context(), leak()), "certificate")
	assert.Empty(t, o.mails)
}

func TestNoMailOverAnOpenLine(t *testing.T) {
	o := &office{}
	s := smtp.NewServer(o)
	s.Domain, s.AllowInsecureAuth = "localhost", true
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	done := make(chan struct{})
	go func() { defer close(done); _ = s.Serve(l) }()
	t.Cleanup(func() { _ = s.Close(); <-done })
	target, err := newMail(&shop.Mail{Host: "127.0.0.1", Port: l.Addr().(*net.TCPAddr).Port, Username: "watch",
		Password: shop.Secret{File: secretFile(t, "walnut 9")}, From: "watch@example.org", To: []string{"ann@example.org"}})
	require.NoError(t, err)
	require.ErrorContains(t, target.Send(t.Context(), leak()), "STARTTLS")
	assert.Empty(t, o.mails)
}
