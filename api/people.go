package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
)

func (s *service) peopleRoutes() []route {
	return []route{
		{method: http.MethodGet, path: Prefix + "/whoami", handle: s.whoami},
		{method: http.MethodGet, path: Prefix + "/people", handle: s.people},
		{method: http.MethodPost, path: Prefix + "/people", handle: s.addPerson},
		{method: http.MethodGet, path: Prefix + "/people/:id", handle: s.person},
		{method: http.MethodPatch, path: Prefix + "/people/:id", handle: s.changePerson},
	}
}

// whoami says whom the server takes the asker for.
func (s *service) whoami(c *gin.Context) (answer, error) {
	return ok(viewWho(by(c).Actor), 0), nil
}

func (s *service) people(c *gin.Context) (answer, error) {
	all, err := s.shop.People(c.Request.Context(), by(c))
	return ok(wire.People{People: list(all, viewPerson)}, 0), err
}

func (s *service) person(c *gin.Context) (answer, error) {
	p, err := s.shop.Person(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewPerson(p), p.Rev), err
}

func (s *service) addPerson(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewPerson](c, false)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.AddPerson(c.Request.Context(), by(c), model.NewPerson(in))
	return created(viewPerson(p), p.Rev, at("people", p.ID)), err
}

func (s *service) changePerson(c *gin.Context) (answer, error) {
	in, rev, err := bindChange[wire.PersonChange](c)
	if err != nil {
		return answer{}, err
	}
	p, err := s.shop.ChangePerson(c.Request.Context(), by(c), c.Param("id"), rev, model.PersonChange(in))
	return ok(viewPerson(p), p.Rev), err
}
