# Builds Pawl and leaves only the program. The store lives in /data.
#
#   docker build -t pawl .
#   docker run -v pawl:/data pawl settings --plain-http yes
#   docker run -p 127.0.0.1:8080:8080 -v pawl:/data pawl
FROM golang:1.26-bookworm AS build
WORKDIR /src
COPY go.mod go.sum ./
RUN go mod download
COPY . .
RUN CGO_ENABLED=1 go build -trimpath -ldflags="-s -w" -o /pawl . && mkdir /data

FROM debian:bookworm-slim
COPY --from=build /pawl /usr/local/bin/pawl
COPY --from=build --chown=65532:65532 /data /data
ENV PAWL_DATA=/data
VOLUME ["/data"]
EXPOSE 8080
USER 65532:65532
# Inside the container the port is plain, which the setting permits. Publish it
# on loopback, or behind something that ends TLS and is named by --proxy.
HEALTHCHECK --interval=30s --timeout=5s --start-period=5s CMD ["pawl", "serve", "--check", "http://127.0.0.1:8080"]
ENTRYPOINT ["pawl"]
CMD ["serve", "--listen", "0.0.0.0:8080"]
