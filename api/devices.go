package api

import (
	"net/http"

	"github.com/gin-gonic/gin"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

func (s *service) deviceRoutes() []route {
	return []route{
		{method: http.MethodPost, path: Prefix + "/enrolments", handle: s.enroll},
		{method: http.MethodGet, path: Prefix + "/enrolments/:secret", handle: s.enrolment},
		{method: http.MethodPost, path: Prefix + "/enrolments/:secret/enter", handle: s.enter},
		{method: http.MethodGet, path: Prefix + "/devices", handle: s.devices},
		{method: http.MethodPost, path: Prefix + "/devices/:id/revoke", handle: s.revokeDevice},
		{method: http.MethodPost, path: Prefix + "/session/end", handle: s.endSession},
	}
}

func (s *service) enroll(c *gin.Context) (answer, error) {
	in, err := bind[wire.NewEnrolment](c, false)
	if err != nil {
		return answer{}, err
	}
	e, err := s.makeEnrolment(c, in)
	if err != nil {
		return answer{}, err
	}
	out := viewEnrolment(e)
	out.Link, err = s.door.Link(c.Request, e.Secret)
	return created(out, 0, ""), err
}

func (s *service) makeEnrolment(c *gin.Context, in wire.NewEnrolment) (model.Enrolment, error) {
	ctx, who := c.Request.Context(), by(c)
	switch {
	case in.Until != "" && in.Viewer == "":
		return model.Enrolment{}, fault.At("#/until", "only a viewer has a last day")
	case in.Claim != "" && in.Viewer == "":
		return model.Enrolment{}, fault.At("#/claim", "only a viewer is let in for a claim")
	case in.Person != "" && in.ShopDevice == "" && in.Viewer == "":
		return s.shop.Enroll(ctx, who, in.Person)
	case in.ShopDevice != "" && in.Person == "" && in.Viewer == "":
		return s.shop.EnrollShopDevice(ctx, who, in.ShopDevice)
	case in.Viewer != "" && in.Person == "" && in.ShopDevice == "":
		return s.shop.EnrollViewer(ctx, who, in.Viewer, in.Until, in.Claim)
	}
	return model.Enrolment{}, fault.At("#", "say one of person, shop_device and viewer")
}

func (s *service) enrolment(c *gin.Context) (answer, error) {
	e, err := s.shop.LookEnrolment(c.Request.Context(), c.Param("secret"), s.door.Address(c.Request))
	return ok(viewEnrolment(e), 0), err
}

func (s *service) enter(c *gin.Context) (answer, error) {
	in, err := bind[wire.Entry](c, false)
	if err != nil {
		return answer{}, err
	}
	entry := model.Entry{Secret: c.Param("secret"), Device: in.Device, Name: in.Name, Session: s.door.Session(c.Request)}
	let, err := s.shop.Enter(c.Request.Context(), entry, s.door.Address(c.Request))
	if err != nil {
		return answer{}, err
	}
	s.door.SignIn(c.Writer, c.Request, let.Secret)
	return created(viewDevice(let.DeviceView), 0, ""), nil
}

func (s *service) devices(c *gin.Context) (answer, error) {
	all, err := s.shop.Devices(c.Request.Context(), by(c))
	return ok(wire.Devices{Devices: list(all, viewDevice)}, 0), err
}

func (s *service) revokeDevice(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	v, err := s.shop.RevokeDevice(c.Request.Context(), by(c), c.Param("id"))
	return ok(viewDevice(v), 0), err
}

// endSession answers with whom the server took the asker for.
func (s *service) endSession(c *gin.Context) (answer, error) {
	if _, err := bind[nothing](c, true); err != nil {
		return answer{}, err
	}
	if err := s.shop.EndSession(c.Request.Context(), by(c)); err != nil {
		return answer{}, err
	}
	s.door.SignOut(c.Writer, c.Request)
	return ok(viewWho(by(c).Actor), 0), nil
}

func viewEnrolment(e model.Enrolment) wire.Enrolment {
	return wire.Enrolment{Kind: string(e.Kind), Name: e.Name, Until: e.Until, Expires: e.Expires, First: e.First}
}

func viewDevice(v model.DeviceView) wire.Device {
	out := wire.Device{ID: v.ID, Name: v.Name, Kind: string(v.Kind), Until: v.Until, Since: v.Since,
		LastUsed: v.LastUsed, InForce: v.InForce, Revoked: v.Revoked}
	if v.Kind == people.PersonDevice {
		out.Person = null(v.PersonName)
	}
	return out
}
