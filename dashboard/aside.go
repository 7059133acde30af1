package dashboard

import (
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"ductward/internal/alarm"
)

// asideInput is what a person asks for with one alarm.
type asideInput struct {
	By     string  `json:"by"`
	Reason string  `json:"reason,omitempty"`
	Hours  float64 `json:"hours,omitempty"` // for which it is shelved
	Once   bool    `json:"once,omitempty"`
	Found  string  `json:"found,omitempty"`
	Action string  `json:"action,omitempty"`
}

// asides are what can be done with an alarm beside acknowledging it.
var asides = map[string]func(*server, string, *asideInput) (alarm.Alarm, error){
	"shelve": func(s *server, id string, in *asideInput) (alarm.Alarm, error) {
		now := s.Clock.Now()
		return s.Alarms.Shelve(id, in.By, in.Reason, now, now.Add(time.Duration(in.Hours*float64(time.Hour))), in.Once)
	},
	"unshelve": func(s *server, id string, in *asideInput) (alarm.Alarm, error) {
		return s.Alarms.Unshelve(id, in.By, s.Clock.Now())
	},
	"out": func(s *server, id string, in *asideInput) (alarm.Alarm, error) {
		return s.Alarms.TakeOut(id, in.By, in.Reason, s.Clock.Now())
	},
	"back": func(s *server, id string, in *asideInput) (alarm.Alarm, error) {
		return s.Alarms.PutBack(id, in.By, s.Clock.Now())
	},
	"confirm": func(s *server, id string, in *asideInput) (alarm.Alarm, error) {
		return s.Alarms.Confirm(id, in.By, in.Found, in.Action, s.Clock.Now())
	},
}

// aside does what a person asks for with one alarm.
func (s *server) aside(do string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		in, err := readAside(r)
		if err == nil {
			err = checkName(in.By)
		}
		if err != nil {
			s.fail(w, r, http.StatusBadRequest, err.Error())
			return
		}
		id := r.PathValue("id")
		a, err := asides[do](s, id, &in)
		switch {
		case errors.Is(err, alarm.ErrUnknown):
			s.fail(w, r, http.StatusNotFound, fmt.Sprintf("there is no alarm %q", id))
		case errors.Is(err, alarm.ErrWords), errors.Is(err, alarm.ErrEnd), errors.Is(err, alarm.ErrNoName):
			s.fail(w, r, http.StatusBadRequest, err.Error())
		case errors.Is(err, alarm.ErrDone):
			s.fail(w, r, http.StatusConflict, err.Error())
		case err != nil:
			s.trouble(w, r, err)
		case isForm(r):
			remember(w, in.By)
			http.Redirect(w, r, "/alarms?done="+do, http.StatusSeeOther)
		default:
			writeJSON(w, http.StatusOK, s.newAlarmDTO(a))
		}
	}
}

func readAside(r *http.Request) (in asideInput, err error) {
	if !isForm(r) {
		err = readJSON(r, &in)
	} else if err = r.ParseForm(); err == nil {
		f := r.PostForm
		in = asideInput{By: f.Get("by"), Reason: f.Get("reason"), Once: f.Get("once") != "", Found: f.Get("found"), Action: f.Get("action")}
		if h := f.Get("hours"); h != "" {
			if in.Hours, err = strconv.ParseFloat(h, 64); err != nil {
				err = fmt.Errorf("hours %q is not a number", h)
			}
		}
	}
	in.By = strings.TrimSpace(in.By)
	if !(in.Hours >= 0 && in.Hours <= 1000) {
		return in, errors.New("hours must be a number from 0 to 1000")
	}
	return in, err
}

// testLetter asks for a test letter to everybody.
func (s *server) testLetter(w http.ResponseWriter, r *http.Request) {
	in, err := readAside(r)
	if err == nil {
		err = checkName(in.By)
	}
	if err != nil {
		s.fail(w, r, http.StatusBadRequest, err.Error())
		return
	}
	if s.Delivery == nil || !s.Delivery.Letters() {
		s.fail(w, r, http.StatusConflict, "the shop file names nobody to tell: write webhooks, mail or syslog under \"outbound\"")
		return
	}
	s.Delivery.Test(in.By)
	if isForm(r) {
		remember(w, in.By)
		http.Redirect(w, r, "/alarms?done=test", http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusAccepted, map[string]string{"sent": "the letter is on its way"})
}
