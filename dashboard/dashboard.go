package dashboard

import (
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"time"
)

// defaultRefresh is short enough for "live" and long enough that fifty viewers cost a small board next to nothing.
const defaultRefresh = 2 * time.Second

// server holds what the handlers share. Nothing in it changes after New, but for the memo of the live part.
type server struct {
	Config
	pages  map[string]*template.Template
	assets map[string]*asset
	file   shopFile
	live   *liveMemo
	hunt   *liveMemo
	units

	sessions *sessions
}

// New returns the handler of all pages, charts and JSON. Its routes are absolute: mount it at the root.
func New(cfg Config) (http.Handler, error) {
	if err := cfg.check(); err != nil {
		return nil, err
	}
	if cfg.Log == nil {
		cfg.Log = slog.Default()
	}
	if cfg.Refresh == 0 {
		cfg.Refresh = defaultRefresh
	}
	s := &server{Config: cfg, file: readShopFile(cfg.Shop), live: &liveMemo{}, hunt: &liveMemo{}, units: unitsOf("", cfg.Shop.Site.Units),
		sessions: newSessions(cfg.Clock)}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if s.pages, err = s.loadPages(); err != nil {
		return nil, err
	}
	return s.guard(s.gated(s.routes())), nil
}

// check names the first part that is missing.
func (c *Config) check() error {
	for _, p := range []struct {
		name    string
		missing bool
	}{
		{"Shop", c.Shop == nil}, {"Watch", c.Watch == nil}, {"Readings", c.Readings == nil},
		{"Journal", c.Journal == nil}, {"Alarms", c.Alarms == nil}, {"Clock", c.Clock == nil},
	} {
		if p.missing {
			return fmt.Errorf("dashboard: Config.%s is not set: it must be before New", p.name)
		}
	}
	return nil
}

// routes lists every path that there is. A GET route answers HEAD as well and changes nothing.
func (s *server) routes() *http.ServeMux {
	m := http.NewServeMux()
	for _, p := range sitePages {
		m.HandleFunc("GET "+p.Path, s.page(p))
	}
	m.HandleFunc("GET /static/{name}", s.static)
	m.HandleFunc("GET /live", s.shown((*server).stream))
	m.HandleFunc("GET /live/now", s.shown((*server).liveNow))
	m.HandleFunc("GET /live/walk", s.shown((*server).liveWalk))
	m.HandleFunc("GET /charts/{name}", s.shown((*server).chartOption))
	m.HandleFunc("GET /history.csv", s.historyCSV)
	m.HandleFunc("GET /api/v1/state", s.apiState)
	m.HandleFunc("GET /api/v1/findings", s.apiFindings)
	m.HandleFunc("GET /api/v1/alarms", s.apiAlarms)
	m.HandleFunc("GET /api/v1/journal", s.apiJournal)
	m.HandleFunc("GET /api/v1/chart", s.apiChart)
	m.HandleFunc("POST /api/v1/journal", s.addEntry)
	m.HandleFunc("POST /api/v1/positions", s.setPosition)
	m.HandleFunc("POST /api/v1/hunt", s.setHunt)
	m.HandleFunc("POST /api/v1/baseline", s.setBaseline)
	m.HandleFunc("POST /units", s.setUnits)
	m.HandleFunc("POST /api/v1/alarms/{id}/acknowledge", s.acknowledge)
	for do := range asides {
		m.HandleFunc("POST /api/v1/alarms/{id}/"+do, s.aside(do))
	}
	m.HandleFunc("POST /api/v1/test-letter", s.testLetter)
	m.Handle("GET /metrics", s.metricsHandler())
	m.HandleFunc("GET /sign-in", s.askPassword)
	m.HandleFunc("POST /sign-in", s.signIn)
	m.HandleFunc("POST /sign-out", s.signOut)
	m.HandleFunc("POST /devices/{id}/revoke", s.distrust)
	m.HandleFunc("/", s.notFound)
	return m
}
