package page

import (
	"net/http"

	"swathe/report/docs"
)

// helpPage shows one of the pages of package docs, the first if none is named.
func (s *server) helpPage(w http.ResponseWriter, r *http.Request) {
	topics := docs.Topics()
	name := r.PathValue("topic")
	if name == "" {
		name = topics[0].Name
	}
	topic, ok := docs.Find(name)
	if !ok {
		s.refusedPage(w, Refuse(http.StatusNotFound, "There is no help page %q.", name))
		return
	}
	text, err := docs.HTML(name)
	if err != nil {
		s.refusedPage(w, err)
		return
	}
	s.page(w, "help", topic.Title, map[string]any{"Topics": topics, "Name": name, "Text": text})
}
