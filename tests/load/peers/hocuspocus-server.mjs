// The server as its package gives it, without a store: nothing it acknowledges is on a disk.
import { Server } from "@hocuspocus/server";

const server = Server.configure({ address: "127.0.0.1", port: Number(process.argv[2]), quiet: true });
await server.listen();
console.log("ready");
