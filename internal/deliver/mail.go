package deliver

import (
	"context"
	"fmt"
	"strings"

	"github.com/wneessen/go-mail"

	"ductward/internal/alarm"
	"ductward/internal/credential"
	"ductward/internal/finding"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

func newMail(m *shop.Mail) (*Target, error) {
	password, err := credential.Secret("the mail server's password", m.Password)
	if err != nil {
		return nil, err
	}
	conf, err := credential.Authorities("the mail server", m.CAFile, m.Host)
	if err != nil {
		return nil, err
	}
	options := []mail.Option{mail.WithPort(m.Port), mail.WithTimeout(limit), mail.WithTLSConfig(conf)}
	switch m.Encryption {
	case shop.TLS:
		options = append(options, mail.WithSSL())
	case shop.Open:
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
	default:
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
	}
	if m.Username != "" {
		options = append(options, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(m.Username), mail.WithPassword(password))
	}
	if _, err := mail.NewClient(m.Host, options...); err != nil {
		return nil, fmt.Errorf("the mail server: %w", err)
	}
	return &Target{Name: shop.MailTarget, Host: m.Host, send: func(ctx context.Context, it *outbox.Item) error {
		msg, err := written(m, &it.Letter)
		if err != nil {
			return fmt.Errorf("%w: %w", outbox.ErrRefused, err)
		}
		client, err := mail.NewClient(m.Host, options...) // a connection of its own, so that attempts share nothing
		if err != nil {
			return err
		}
		return client.DialAndSendWithContext(ctx, msg)
	}}, nil
}

// written makes a letter a mail. A letter that is sent twice has the same Message-ID both times (RFC 5322, section 3.6.4),
// and says that no answer is wanted from a machine (RFC 3834, section 5).
func written(m *shop.Mail, l *outbox.Letter) (*mail.Msg, error) {
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := msg.From(m.From); err != nil {
		return nil, err
	}
	if err := msg.To(m.To...); err != nil {
		return nil, err
	}
	_, domain, _ := strings.Cut(m.From, "@")
	msg.SetMessageIDWithValue(identity(l) + "@" + domain)
	msg.SetDateWithValue(l.At)
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	if l.Kind == outbox.Alarm && l.Priority == finding.ActToday && l.Event != alarm.Cleared {
		msg.SetImportance(mail.ImportanceHigh)
	}
	msg.Subject(strings.Join(strings.Fields(l.Subject), " "))
	msg.SetBodyString(mail.TypeTextPlain, l.Text)
	return msg, nil
}
