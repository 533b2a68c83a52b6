package client

import (
	"context"

	"pawl/api/wire"
)

// Enroll makes a link that lets one device in. It is in this answer and in no
// other. Looking at a link and taking it is for browsers, which keep the cookie.
func (c *Client) Enroll(ctx context.Context, in wire.NewEnrolment, opts ...Option) (wire.Enrolment, error) {
	return post[wire.Enrolment](ctx, c, in, opts, "enrolments")
}

// Devices returns every device that the asker may see, revoked ones too.
func (c *Client) Devices(ctx context.Context) (wire.Devices, error) {
	all, err := gathered(func(cursor string) ([]wire.Device, *string, error) {
		page, _, err := get[wire.Devices](ctx, c, pageOf(0, cursor), "devices")
		return page.Devices, page.Next, err
	})
	return wire.Devices{Devices: all}, err
}

// RevokeDevice shuts a device out, by id.
func (c *Client) RevokeDevice(ctx context.Context, id string, opts ...Option) (wire.Device, error) {
	return post[wire.Device](ctx, c, nil, opts, "devices", id, "revoke")
}
