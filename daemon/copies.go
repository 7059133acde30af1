package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"time"

	"ductward/internal/store"
)

// socketName is the name, in the data folder, of the socket on which a running daemon hands out copies of its store:
// nobody else can open the file meanwhile. A socket and not an address, so that whoever asks for the copy of a folder
// gets that of this folder, from this machine alone, and only if the folder's owner may.
const socketName = "ductward.sock"

// tallyTrailer follows a copy and says what it holds.
const tallyTrailer = "Ductward-Tally"

// While a copy is read, the file cannot use again what is let go of, and grows by what is committed. So whoever reads one
// is given up when it takes nothing for copyStall, and when it has not taken all in copyLongest: in that time a shop commits
// some ten megabytes, and the slowest line that carries a copy at all is done.
const (
	copyStall   = 30 * time.Second
	copyLongest = 12 * time.Hour
)

// copies hands out copies of the store. Nothing can be changed through it.
type copies struct {
	store    keeper
	path     string
	listener net.Listener
	log      *slog.Logger
	busy     sync.WaitGroup
}

// newCopies listens in the data folder, which this process holds: a socket that is there already is that of a daemon
// that was killed.
func newCopies(dir string, k keeper, log *slog.Logger) (*copies, error) {
	path := filepath.Join(dir, socketName)
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	name, let, err := socketIn(dir)
	if err != nil {
		return nil, err
	}
	defer let()
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: name, Net: "unix"})
	if err != nil {
		return nil, err
	}
	l.SetUnlinkOnClose(false) // by that name it could not
	if err := os.Chmod(path, 0o600); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return &copies{store: k, path: path, listener: l, log: log}, nil
}

// run serves until the context is done. A copy that is under way is then cut off, and is none.
func (c *copies) run(ctx context.Context) error {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /backup", c.hand)
	server := &http.Server{Handler: mux, ReadHeaderTimeout: copyStall, ErrorLog: slog.NewLogLogger(c.log.Handler(), slog.LevelDebug)}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(c.listener) }()
	select {
	case err := <-failed:
		return fmt.Errorf("serve %s: %w", c.path, err)
	case <-ctx.Done():
	}
	err := server.Close()
	<-failed // http.ErrServerClosed
	c.busy.Wait()
	_ = os.Remove(c.path) // or the next start does
	return err
}

// hand writes a copy, and then what it holds. One that fails is cut off, which the other end notices.
func (c *copies) hand(w http.ResponseWriter, _ *http.Request) {
	c.busy.Add(1)
	defer c.busy.Done()
	w.Header().Set("Trailer", tallyTrailer)
	w.Header().Set("Content-Type", "application/octet-stream")
	conn := http.NewResponseController(w)
	tally, err := c.store.Backup(&hasty{w, conn, time.Now().Add(copyLongest)})
	var held []byte
	if err == nil {
		held, err = json.Marshal(tally)
	}
	if err == nil { // counting what it holds may have taken longer than any write
		err = conn.SetWriteDeadline(time.Now().Add(copyStall))
	}
	if err != nil {
		c.log.Warn("a copy of the store was not handed out whole", "err", err)
		panic(http.ErrAbortHandler)
	}
	w.Header().Set(tallyTrailer, string(held))
	c.log.Info("a copy of the store was handed out", "readings", tally.Readings)
}

// hasty gives up a reader that takes nothing, or too little.
type hasty struct {
	io.Writer
	conn *http.ResponseController
	end  time.Time
}

func (h *hasty) Write(p []byte) (int, error) {
	until := time.Now().Add(copyStall)
	if h.end.Before(until) {
		until = h.end
	}
	if err := h.conn.SetWriteDeadline(until); err != nil {
		return 0, err
	}
	return h.Writer.Write(p)
}

// errNoDaemon says that no daemon hands out copies of a folder's store.
var errNoDaemon = errors.New("no daemon answers")

// copyOfRunning writes what a running daemon hands out.
func copyOfRunning(ctx context.Context, dir string, w io.Writer) (t store.Tally, err error) {
	path := filepath.Join(dir, socketName)
	name, let, err := socketIn(dir)
	if err != nil {
		return t, fmt.Errorf("%w at %s: %w", errNoDaemon, path, err)
	}
	conn, err := (&net.Dialer{}).DialContext(ctx, "unix", name)
	let()
	if err != nil {
		return t, fmt.Errorf("%w at %s: %w", errNoDaemon, path, err)
	}
	transport := &http.Transport{DialContext: func(context.Context, string, string) (net.Conn, error) { return conn, nil }}
	defer transport.CloseIdleConnections()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://store/backup", nil)
	if err != nil {
		return t, err
	}
	answer, err := transport.RoundTrip(req)
	if err != nil {
		return t, fmt.Errorf("ask the running daemon for a copy: %w", err)
	}
	defer func() { _ = answer.Body.Close() }() // it has been read to its end, or is given up
	if answer.StatusCode != http.StatusOK {
		return t, fmt.Errorf("ask the running daemon for a copy: it answers %s", answer.Status)
	}
	if _, err := io.Copy(w, answer.Body); err != nil {
		return t, fmt.Errorf("the copy from the running daemon: %w", err)
	}
	if err := json.Unmarshal([]byte(answer.Trailer.Get(tallyTrailer)), &t); err != nil {
		return t, fmt.Errorf("the copy from the running daemon does not say what it holds: %w", err)
	}
	return t, nil
}

// CopyOf writes a copy of the store in a data folder, from the daemon that has it open or else from the file itself, and
// returns what it holds.
func CopyOf(ctx context.Context, dir string, w io.Writer) (store.Tally, error) {
	t, noDaemon := copyOfRunning(ctx, dir, w)
	if !errors.Is(noDaemon, errNoDaemon) {
		return t, noDaemon
	}
	t, err := store.BackupClosed(dir, w)
	if errors.Is(err, store.ErrInUse) {
		return t, fmt.Errorf("%w; to have a copy while it runs, ask as the user who runs it: %w", err, noDaemon)
	}
	return t, err
}
