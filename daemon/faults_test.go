package daemon

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/store"
)

// answerFolder is the variable that makes the test binary a daemon that answers once and waits to be killed.
const answerFolder = "DAEMON_TEST_ANSWER"

// answerAndWait runs a daemon over a folder, sets a gate by hand, says so and waits.
func answerAndWait(dir string) int {
	cfg := Config{Shop: smallShop(), DataDir: dir, Buses: newBoard(), Clock: newFastClock(monday), Log: quiet()}
	cfg.CommitEvery = time.Hour // nothing but the answer brings it to the card
	d, err := New(cfg)
	if err != nil {
		fmt.Println("error", err)
		return 1
	}
	go func() { _ = d.Run(context.Background()) }()
	for d.running.Load() == nil {
		time.Sleep(time.Millisecond)
	}
	if err := d.SetByHand("gate/lathe gate", 1); err != nil {
		fmt.Println("error", err)
		return 1
	}
	fmt.Println("set")
	select {}
}

// A gate that a person has set is on the card before the answer: the daemon is killed right after it.
func TestAGateIsOnTheCardBeforeItIsAnswered(t *testing.T) {
	for range 5 {
		dir := t.TempDir()
		cmd := exec.Command(os.Args[0], "-test.run=none")
		cmd.Env = append(os.Environ(), answerFolder+"="+dir)
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		said := lines.Scan()
		require.NoError(t, cmd.Process.Kill())
		require.True(t, said, "no answer")
		require.Equal(t, "set", lines.Text())
		_ = cmd.Wait() // it was killed, and says so
		rs := storedReadings(t, reopened(t, dir), "gate/lathe gate")
		require.Len(t, rs, 1)
		require.InDelta(t, 1, rs[0].Value, 0)
	}
}

// alone runs the test that calls it in a process of its own, and tells in that process that it is there: a limit on the
// size of files would hold for what "go test" itself writes as well.
func alone(t *testing.T) (here bool) {
	t.Helper()
	const mark = "DUCTWARD_TEST_ALONE"
	if os.Getenv(mark) == t.Name() {
		return true
	}
	cmd := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
	cmd.Env = append(os.Environ(), mark+"="+t.Name())
	out, err := cmd.CombinedOutput()
	require.NoError(t, err, "%s", out)
	require.Contains(t, string(out), "--- PASS: "+t.Name())
	return false
}

// With a card that is really full, by a limit on the size of files, the daemon goes on reading and alarming, says that the
// record fails, and stores everything once there is room.
func TestAFullCardStopsNeitherReadingNorAlarming(t *testing.T) {
	if !alone(t) {
		return
	}
	signal.Ignore(syscall.SIGXFSZ)
	b := newBoard()
	cfg := smallConfig(t, b)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings", func() bool { return seen.have("main/trunk") > 5 })

	var was syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was))
	lift := func() { require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was)) }
	defer lift()
	require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 1, Max: was.Max}))
	b.unplug("t/filter")
	standing := func(cause string) bool {
		for _, a := range r.d.open.fold.alarms.Standing() {
			if a.Cause == cause {
				return true
			}
		}
		return false
	}
	eventually(t, "the alarm of the sensor", func() bool { return standing(lostFilter) })
	eventually(t, "the alarm of the record", func() bool { return standing("/record-failing/") })
	require.ErrorContains(t, r.d.SetByHand("gate/lathe gate", 1), "not stored yet", "the answer is honest")
	before := seen.have("main/trunk")
	eventually(t, "it goes on reading", func() bool { return seen.have("main/trunk") > before+10 })

	lift()
	eventually(t, "the record works again", func() bool { return !r.d.open.fold.committing.stands() })
	require.NoError(t, r.end())
	s := reopened(t, cfg.DataDir)
	assert.Len(t, storedReadings(t, s), len(seen.appended), "nothing is lost")
	breaches, err := s.Check()
	require.NoError(t, err)
	assert.Empty(t, breaches)
	alarms, err := s.Alarms()
	require.NoError(t, err)
	assert.Len(t, alarms, 2, "those that were raised meanwhile are stored, once each")
}

// A daemon that is started on a card that is full already reads, alarms and says so, and stores everything once there is
// room, the shop file and its own boot included.
func TestADaemonStartsOnAFullCard(t *testing.T) {
	if !alone(t) {
		return
	}
	signal.Ignore(syscall.SIGXFSZ)
	b := newBoard()
	cfg := smallConfig(t, b)
	first := start(t, cfg)
	require.NoError(t, first.end())

	var was syscall.Rlimit
	require.NoError(t, syscall.Getrlimit(syscall.RLIMIT_FSIZE, &was))
	lift := func() { require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &was)) }
	defer lift()
	require.NoError(t, syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: 1, Max: was.Max}))
	cfg.Shop.Raw = append(cfg.Shop.Raw, "\n# changed since\n"...)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	eventually(t, "readings", func() bool { return seen.have("main/trunk") > 5 })
	eventually(t, "their civil time", func() bool { return !r.d.open.store.Latest()["main/trunk"].Time.IsZero() })
	eventually(t, "the alarm of the record", func() bool {
		for _, a := range r.d.open.fold.alarms.Standing() {
			if a.Cause == "/record-failing/" {
				return true
			}
		}
		return false
	})

	lift()
	eventually(t, "the record works again", func() bool { return !r.d.open.fold.committing.stands() && !r.d.open.fold.keeping.stands() })
	require.NoError(t, r.end())
	s := reopened(t, cfg.DataDir)
	assert.Len(t, s.Boots(), 2)
	stored := storedReadings(t, s)
	assert.Equal(t, uint32(2), stored[len(stored)-1].Boot)
	shops, err := s.Shops()
	require.NoError(t, err)
	assert.Contains(t, string(shops[len(shops)-1].Raw), "changed since")
	breaches, err := s.Check()
	require.NoError(t, err)
	assert.Empty(t, breaches)
}

// A commit while all stand is followed by a long wait, which a fan that starts cuts short.
func TestAFanThatStartsShortensTheWaitForACommit(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	cfg.Log, cfg.pace = quiet(), quick
	d, err := New(cfg)
	require.NoError(t, err)
	s, err := d.session()
	require.NoError(t, err)
	f := s.fold
	f.fans[0].see(true, 0)
	at := time.Hour
	require.NoError(t, f.commit(at))
	assert.Equal(t, at+quick.commitIdle, f.nextCommit)
	f.fans[0].see(false, at+time.Second)
	f.keepHouse(at + 2*time.Second)
	assert.Equal(t, at+quick.commitBusy, f.nextCommit)
	f.keepHouse(at + quick.commitBusy)
	assert.Equal(t, at+quick.commitBusy, f.lastCommit)
	require.NoError(t, d.Close())
}

func TestAnAlarmThatComesAndGoesTakesTheRoomOfOne(t *testing.T) {
	a, b := alarm.Alarm{ID: "a", Times: 1}, alarm.Alarm{ID: "b"}
	newer := alarm.Alarm{ID: "a", Times: 2}
	assert.Equal(t, []alarm.Alarm{b, newer}, newestOf([]alarm.Alarm{a, b}, []alarm.Alarm{newer}))
	assert.Empty(t, newestOf(nil, nil))
}

func TestTheLossWindowIsASetting(t *testing.T) {
	cfg := Config{Shop: smallShop(), DataDir: "x", Clock: newFastClock(monday), CommitEvery: 10 * time.Second}
	require.NoError(t, cfg.complete())
	assert.Equal(t, 10*time.Second, cfg.pace.commitBusy)
	assert.Equal(t, 100*time.Second, cfg.pace.commitIdle)
	cfg.CommitEvery = -1
	require.ErrorContains(t, cfg.complete(), "below 0")
	assert.Equal(t, 30*time.Second, usual.commitBusy)
}

// A store that refuses readings for want of memory says so in the alarm.
func TestTheAlarmSaysWhenReadingsAreLost(t *testing.T) {
	f := &fold{}
	assert.Contains(t, f.heldWords(), "held in memory")
	f.appending.last = fmt.Errorf("channel %q: %w", "main/trunk", store.ErrFull)
	assert.Contains(t, f.heldWords(), "new readings are lost")
}
