package dashboard

import (
	"net/http"
	"strconv"

	"ductward/dashboard/plot"
	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// chartOption answers with the options of one chart for the script: /charts/filter?c=COLLECTOR, /charts/leaks?c=…,
// /charts/place?c=…&i=NUMBER and /charts/channel?ch=CHANNEL&from=&to=.
func (s *server) chartOption(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	var ch *plot.Chart
	switch name := r.PathValue("name"); name {
	case "filter", "leaks":
		c := rq.collector(r.URL.Query().Get("c"))
		if c == nil {
			s.notFound(w, r)
			return
		}
		entries, err := s.Journal.Journal()
		if err != nil {
			s.trouble(w, r, err)
			return
		}
		if ch = s.filterChart(rq, c, entries); name == "leaks" {
			ch = s.leaksChart(rq, c, entries)
		}
	case "place":
		c := rq.collector(r.URL.Query().Get("c"))
		i, err := strconv.Atoi(r.URL.Query().Get("i"))
		var places []estimate.Zone
		if c != nil {
			places = s.leakPlaces(c)
		}
		if err != nil || i < 0 || i >= len(places) {
			s.notFound(w, r)
			return
		}
		ch = s.placeChart(rq, c, &places[i])
	case "channel":
		v, err := s.readSpan(r, rq.now)
		if err != nil {
			s.fail(w, r, http.StatusBadRequest, err.Error())
			return
		}
		if len(v.channels) == 0 {
			s.notFound(w, r)
			return
		}
		events, err := s.events(v, rq.snap)
		if err == nil {
			ch, _, err = s.channelChart(v.channels[0], v, events)
		}
		if err != nil {
			s.trouble(w, r, err)
			return
		}
	default:
		s.notFound(w, r)
		return
	}
	writeJSON(w, http.StatusOK, ch.Options())
}

// collector finds a collector in the snapshot.
func (rq *request) collector(name string) *watch.Collector {
	if rq.snap == nil {
		return nil
	}
	for i := range rq.snap.Collectors {
		if rq.snap.Collectors[i].Name == name {
			return &rq.snap.Collectors[i]
		}
	}
	return nil
}
