// Package deliver hands one letter to one target: a signed webhook, a mail server, a collector of logs. It makes one
// attempt; when to make the next is the outbox's affair.
//
// A nil error says that the target has taken the letter, as far as its protocol can say so: an HTTP answer of 2xx, a mail
// server's 250 after the data. Syslog knows no answer: over UDP (RFC 5426) a letter may be lost unseen, over TCP and TLS it
// was taken in when the line could be closed in order.
//
// Errors and logs name a target by the name that it has in the shop file and by its host, never by the rest of an address,
// which may hold a secret.
package deliver
