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
	return s.guard(s.gated(s.mux())), nil
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

// route is one method and path with its handler. A GET route answers HEAD as well and changes nothing.
type route struct {
	pattern string // as http.ServeMux reads it
	handler http.Handler
}

// mux serves the routes, and says of any other path that it is none.
func (s *server) mux() *http.ServeMux {
	m := http.NewServeMux()
	for _, r := range s.routes() {
		m.Handle(r.pattern, r.handler)
	}
	m.HandleFunc("/", s.notFound)
	return m
}

// routes lists every path that there is.
func (s *server) routes() []route {
	var out []route
	on := func(pattern string, h http.HandlerFunc) { out = append(out, route{pattern, h}) }
	for _, p := range sitePages {
		on("GET "+p.Path, s.page(p))
	}
	on("GET /static/{name}", s.static)
	on("GET /live", s.shown((*server).stream))
	on("GET /live/now", s.shown((*server).liveNow))
	on("GET /live/walk", s.shown((*server).liveWalk))
	on("GET /charts/{name}", s.shown((*server).chartOption))
	on("GET /history.csv", s.historyCSV)
	on("POST /units", s.setUnits)
	on("GET /sign-in", s.askPassword)
	on("POST /sign-in", s.signIn)
	on("POST /sign-out", s.signOut)
	on("POST /devices/{id}/revoke", s.distrust)
	on("GET /metrics", s.metricsHandler().ServeHTTP)
	return append(out, s.apiRoutes()...)
}

// apiRoutes lists what programs read and write. openapi.yaml describes it.
func (s *server) apiRoutes() []route {
	var out []route
	on := func(pattern string, h http.HandlerFunc) { out = append(out, route{pattern, h}) }
	on("GET /api/v1/state", s.apiState)
	on("GET /api/v1/findings", s.apiFindings)
	on("GET /api/v1/repairs", s.apiRepairs)
	on("GET /api/v1/cleanings", s.apiCleanings)
	on("GET /api/v1/forecasts", s.apiForecasts)
	on("GET /api/v1/alarms", s.apiAlarms)
	on("GET /api/v1/alarm-budget", s.apiBudget)
	on("POST /api/v1/alarms/{id}/acknowledge", s.acknowledge)
	for do := range asides {
		on("POST /api/v1/alarms/{id}/"+do, s.aside(do))
	}
	on("GET /api/v1/journal", s.apiJournal)
	on("POST /api/v1/journal", s.addEntry)
	on("GET /api/v1/checks", s.apiChecks)
	on("GET /api/v1/chart", s.apiChart)
	on("GET /api/v1/airflow", s.apiAirflow)
	on("GET /api/v1/positions", s.apiPositions)
	on("POST /api/v1/positions", s.setPosition)
	on("GET /api/v1/hunt", s.apiHunt)
	on("POST /api/v1/hunt", s.setHunt)
	on("POST /api/v1/baseline", s.setBaseline)
	on("GET /api/v1/targets", s.apiTargets)
	on("POST /api/v1/test-letter", s.testLetter)
	on("GET /api/v1/shop", s.apiShop)
	on("GET /api/v1/openapi.yaml", s.apiDescription)
	return out
}
