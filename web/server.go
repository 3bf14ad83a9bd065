package web

import (
	"html/template"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"thrum/job"
	"thrum/plan"
	"thrum/store"
)

// Config is what the pages need. Only Store may be nil: then the pages that keep
// something are left out.
type Config struct {
	Store *store.Store
	Queue job.Queue // nil: papers are written while the reader waits
	// Hosts are the names and addresses by which the server may be called, without
	// port; nil means this computer alone: localhost, 127.0.0.1, ::1.
	Hosts []string
	// PublicURL is where visitors reach the public listener, without a slash at the
	// end; empty when there is none.
	PublicURL string
	Pair      bool // other computers must be paired before they see a page
	Net       Net
	Version   string
	Convert   Convert      // nil: only what this program reads by itself is taken
	Log       *slog.Logger // nil means slog.Default
	Now       func() time.Time
}

// Server answers requests.
type Server struct {
	config  Config
	log     *slog.Logger
	pages   map[string]*template.Template
	assets  *assets
	library library
	handler http.Handler
	booth   *Booth       // nil without a store
	results sync.Map     // of closed polls, by id
	planner plan.Planner // remembers the lathes that it has read

	answering sync.Mutex // one new plan for a piece at a time
	playing   sync.Mutex // one stretch of sound in memory at a time
	pairing   pairing
	tray      flankTray
}

// New makes the handler: it reads the pages and names scripts and styles.
func New(c Config) (*Server, error) {
	s := &Server{config: c, log: c.Log, library: library{c.Store}}
	if s.log == nil {
		s.log = slog.Default()
	}
	if s.config.Now == nil {
		s.config.Now = time.Now
	}
	var err error
	if s.assets, err = newAssets(); err != nil {
		return nil, err
	}
	if s.pages, err = parsePages(s.assets); err != nil {
		return nil, err
	}
	if c.Store != nil {
		s.booth = newBooth(c.Store, s.log, s.config.Now, s.pages["booth"], s.assets)
	}
	mux := http.NewServeMux()
	s.routes(mux)
	s.handler = s.guard(mux)
	return s, nil
}

func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// routes lists every address.
func (s *Server) routes(m *http.ServeMux) {
	m.HandleFunc("GET /{$}", s.startShow)
	m.HandleFunc("GET /about", s.aboutShow)
	m.HandleFunc("POST /looks", s.looksSet)
	m.HandleFunc("GET /assets/{name}", s.assets.serve)

	m.HandleFunc("GET /sheet", s.sheetShow)
	m.HandleFunc("GET /sheet.pdf", s.sheetPDF)
	m.HandleFunc("GET /sheet.svg", s.sheetSVG)
	m.HandleFunc("GET /sheet.json", s.sheetJSON)
	m.HandleFunc("GET /sheet.txt", s.sheetText)
	s.finishRoutes(m)
	m.HandleFunc("GET /threads", s.threadsShow)
	m.HandleFunc("GET /wires", s.wiresShow)
	m.HandleFunc("GET /compare", s.compareShow)
	m.HandleFunc("GET /lathes", s.lathesShow)
	m.HandleFunc("POST /lathes", s.shelfAdd(s.lathes()))
	m.HandleFunc("GET /lathes/{name}", s.shelfShow(s.lathes()))
	m.HandleFunc("POST /lathes/{name}", s.shelfSave(s.lathes()))
	m.HandleFunc("GET /lathes/{name}/form", s.shelfFormShow(s.lathes()))
	m.HandleFunc("POST /lathes/{name}/form", s.shelfFormSave(s.lathes()))
	m.HandleFunc("POST /lathes/{name}/remove", s.shelfRemove(s.lathes()))
	m.HandleFunc("GET /materials", s.materialsShow)
	m.HandleFunc("POST /materials", s.shelfAdd(s.materials()))
	m.HandleFunc("GET /materials/{name}", s.shelfShow(s.materials()))
	m.HandleFunc("POST /materials/{name}", s.shelfSave(s.materials()))
	m.HandleFunc("GET /materials/{name}/form", s.shelfFormShow(s.materials()))
	m.HandleFunc("POST /materials/{name}/form", s.shelfFormSave(s.materials()))
	m.HandleFunc("POST /materials/{name}/remove", s.shelfRemove(s.materials()))
	m.HandleFunc("GET /parts", s.partsShow)
	m.HandleFunc("POST /parts", s.partKeep)
	m.HandleFunc("GET /parts/{id}", s.partShow)
	m.HandleFunc("GET /parts/{id}/sheet.pdf", s.partPDF)
	m.HandleFunc("GET /parts/{id}/sheet.json", s.partJSON)
	m.HandleFunc("POST /parts/{id}/revisions", s.partAgain)
	m.HandleFunc("POST /parts/{id}/notes", s.partNote)
	s.flanksRoutes(m)
	m.HandleFunc("GET /changes", s.changesShow)
	m.HandleFunc("GET /export", s.exportSend)
	m.HandleFunc("POST /devices/{id}/role", s.deviceRole)
	m.HandleFunc("GET /knock", s.knockShow)
	m.HandleFunc("POST /knock", s.knockHear)
	m.HandleFunc("GET /listen", s.listenShow)
	m.HandleFunc("POST /listen", s.listenAsk)
	m.HandleFunc("GET /listen/{id}", s.listenedShow)
	m.HandleFunc("GET /listen/{id}/sound", s.listenSound)
	m.HandleFunc("GET /listen/{id}/play", s.listenPlay)
	m.HandleFunc("GET /listen/{id}/values.json", s.listenValuesSend)
	m.HandleFunc("POST /jobs", s.jobAsk)
	m.HandleFunc("GET /jobs/{id}", s.jobShow)
	m.HandleFunc("GET /jobs/{id}/result", s.jobResult)
	s.piecesRoutes(m)
	s.devicesRoutes(m)
	s.airRoutes(m)
	s.trialRoutes(m)
	s.pollsRoutes(m)
	m.HandleFunc("/", s.nothingHere)
}
